// Answers of Node's own Intl (ICU and its own zone data) to the cases of
// main.go: node clocks.js cases.csv > answers.csv
'use strict';
const fs = require('fs');

const formats = new Map();
// The local time that a zone shows at a Unix second, as seconds.
function shownAt(zone, unix) {
  if (!formats.has(zone)) {
    formats.set(zone, new Intl.DateTimeFormat('en-US', {
      timeZone: zone, hourCycle: 'h23', era: 'short', year: 'numeric', month: '2-digit', day: '2-digit',
      hour: '2-digit', minute: '2-digit', second: '2-digit',
    }));
  }
  const part = {};
  for (const p of formats.get(zone).formatToParts(new Date(unix * 1000))) part[p.type] = p.value;
  const text = `${part.year}-${part.month}-${part.day}T${part.hour}:${part.minute}:${part.second}`;
  return { text, second: Date.UTC(+part.year, +part.month - 1, +part.day, +part.hour, +part.minute, +part.second) / 1000 };
}
const offset = (zone, unix) => shownAt(zone, unix).second - unix;

const out = [];
for (const line of fs.readFileSync(process.argv[2], 'utf8').trim().split('\n')) {
  const [id, kind, zone, at, volume, rate] = line.split(',');
  if (kind === 'end') {
    const elapsed = BigInt(volume) * 3600000000000n / BigInt(rate);
    const end = Number(BigInt(at) + elapsed / 1000000000n);
    out.push(`${id},${elapsed},${shownAt(zone, end).text},${offset(zone, end)}`);
    continue;
  }
  const wall = Number(at);
  const before = wall - offset(zone, wall - 30 * 3600), after = wall - offset(zone, wall + 30 * 3600);
  const shown = [...new Set([before, after])].filter((t) => shownAt(zone, t).second === wall).sort((a, b) => a - b);
  out.push(`${id},${before},${shown.join(' ')}`);
}
process.stdout.write(out.join('\n') + '\n');
