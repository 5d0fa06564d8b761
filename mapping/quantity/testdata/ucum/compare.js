// Asks the reference library @lhncbc/ucum-lhc about every line of codes.txt
// and conversions.txt and writes answers.json: sorted, one answer a line.
// Numbers are written to 12 significant digits: the last of a float's 17
// depends on the version of Node (10*-20 is 1.0000000000000001e-20 up to 22).
//
//   node compare.js FOLDER [OUT]
//
// FOLDER is where npm installed the library (npm install --prefix FOLDER);
// OUT is answers.json beside this file when left out. Run through .ci/ucum.
'use strict';
const fs = require('fs');
const path = require('path');

const [folder, out = path.join(__dirname, 'answers.json')] = process.argv.slice(2);
if (!folder) {
  console.error('usage: node compare.js FOLDER [OUT]');
  process.exit(2);
}
const name = '@lhncbc/ucum-lhc';
const at = path.join(path.resolve(folder), 'node_modules', name);
const { version } = JSON.parse(fs.readFileSync(path.join(at, 'package.json'), 'utf8'));
const library = require(at).UcumLhcUtils.getInstance();
console.log = () => {}; // the library talks about units it cannot read

const number = (n) => String(Number(Number(n).toPrecision(12)));
const lines = (file) => fs.readFileSync(path.join(__dirname, file), 'utf8').split('\n')
  .filter((line) => line !== '' && !line.startsWith('#'));

// A unit that the library guessed ("IU is not valid, but [IU] is") is not a
// unit that it accepts: only the status counts.
function read(code) {
  const { status, unit } = library.getSpecifiedUnit(code, 'validate');
  if (status !== 'valid') {
    return { code, valid: false };
  }
  const answer = { code, valid: true, magnitude: number(unit.magnitude_), dimension: String(unit.dim_.dimVec_) };
  if (unit.moleExp_) answer.moles = unit.moleExp_;
  if (unit.equivalentExp_) answer.equivalents = unit.equivalentExp_;
  if (unit.isArbitrary_) answer.arbitrary = true; // not comparable, even with itself
  if (unit.isSpecial_) answer.special = true; // not a ratio scale
  return answer;
}

function convert(line) {
  const [value, from, to] = line.split('\t');
  // Asked first: in a conversion the library takes its own guesses for codes.
  const readable = [from, to].every((code) => library.getSpecifiedUnit(code, 'validate').status === 'valid');
  const { status, toVal } = library.convertUnitTo(from, Number(value), to);
  const converted = readable && status === 'succeeded';
  return { value, from, to, result: converted ? number(toVal) : 'not convertible' };
}

const before = (a, b) => (a < b ? -1 : a > b ? 1 : 0);
const list = (answers) => '[\n' + answers.map((a) => JSON.stringify(a)).join(',\n') + '\n]';
const codes = lines('codes.txt').map(read).sort((a, b) => before(a.code, b.code));
const conversions = lines('conversions.txt').map(convert)
  .sort((a, b) => before(a.from, b.from) || before(a.to, b.to) || before(a.value, b.value));
fs.writeFileSync(out, '{\n"library": ' + JSON.stringify(name + ' ' + version)
  + ',\n"codes": ' + list(codes) + ',\n"conversions": ' + list(conversions) + '\n}\n');
