// The second and third judge: the published JSON schema of R4 by ajv, and the invariants of R4's StructureDefinitions by fhirpath.
// Arguments: the folder with node_modules, the schema, RESOURCES, and optionally the word "seeded".
'use strict'
const fs = require('fs')
const path = require('path')
const zlib = require('zlib')
const [modules, schemaFile, folder, seeded] = process.argv.slice(2)
const load = name => require(path.join(modules, 'node_modules', name))
const Ajv = load('ajv')
const fhirpath = load('fhirpath')
const model = load('fhirpath/fhir-context/r4')

const ajv = new Ajv({ strict: false, logger: false })
const schema = JSON.parse(zlib.gunzipSync(fs.readFileSync(schemaFile)))
delete schema.$schema
delete schema.id
delete schema.discriminator
schema.$id = 'http://hl7.org/fhir/json-schema/4.0'
ajv.addSchema(schema)
const schemas = new Map()
function schemaOf (type) {
  if (!schemas.has(type)) schemas.set(type, ajv.compile({ $ref: schema.$id + '#/definitions/' + type }))
  return schemas.get(type)
}

// The invariants of a type, each with the path where it is stated, and the elements of a complex type in it, whose own invariants
// are asked there.
const definitions = path.join(modules, 'node_modules', 'hl7.fhir.r4.examples')
const types = new Map()
function typeOf (name) {
  if (types.has(name)) return types.get(name)
  const out = { invariants: [], parts: [] }
  types.set(name, out)
  const file = path.join(definitions, 'StructureDefinition-' + name + '.json')
  if (!fs.existsSync(file)) return out
  for (const e of JSON.parse(fs.readFileSync(file)).snapshot.element) {
    const at = e.path === name ? '$this' : e.path.slice(name.length + 1).replace('[x]', '').replace(/\bdiv\b/, '`div`') // div is a word of FHIRPath
    for (const c of e.constraint || []) {
      if (c.severity === 'error' && c.expression && !beyond.test(c.expression)) out.invariants.push({ at, path: e.path, key: c.key, expression: c.expression })
    }
    for (const t of e.type || []) {
      if (e.path !== name && /^[A-Z]/.test(t.code) && !['Resource', 'BackboneElement', 'Element'].includes(t.code)) {
        out.parts.push({ at: e.path.endsWith('[x]') ? `${at}.ofType(${t.code})` : at, type: t.code })
      }
    }
  }
  return out
}
// What the engine cannot answer from one node: references, other definitions, the markup of a narrative, the resource around it.
const beyond = /resolve\(\)|conformsTo|htmlChecks|memberOf/

const compiled = new Map()
function ask (node, type, expression, resource, whole) {
  const key = type + ' ' + expression
  if (!compiled.has(key)) compiled.set(key, fhirpath.compile({ base: type, expression }, model, { traceFn: () => {} }))
  return compiled.get(key)(node, { resource, rootResource: whole })
}
const unknown = new Map()
const asked = new Set()
function broken (node, type, resource, whole, depth = 0) {
  const out = []
  const t = typeOf(type)
  for (const c of t.invariants) {
    try {
      for (const x of c.at === '$this' ? [node] : ask(node, type, c.at, resource, whole)) {
        if (x === null || typeof x !== 'object') continue
        asked.add(type + ' ' + c.key)
        const answer = ask(x, c.path, c.expression, resource, whole)
        if (answer.length === 1 && answer[0] === false) out.push(c.key + ' at ' + c.path)
      }
    } catch (e) { unknown.set(c.key, e.message) }
  }
  if (depth > 8) return out
  for (const p of t.parts) {
    try {
      for (const x of ask(node, type, p.at, resource, whole)) if (x !== null && typeof x === 'object') out.push(...broken(x, p.type, resource, whole, depth + 1))
    } catch (e) { unknown.set(p.at, e.message) }
  }
  return out
}

let files = 0; let resources = 0; let errors = 0
for (const name of fs.readdirSync(folder).filter(n => n.endsWith('.json')).sort()) {
  files++
  let whole
  try { whole = JSON.parse(fs.readFileSync(path.join(folder, name))) } catch (e) {
    if (seeded) console.log([name, 'ajv caught', 'fhirpath caught'].join('\t'))
    continue
  }
  const entries = (whole.entry || []).map(e => e.resource).filter(Boolean)
  const bySchema = []; const byInvariant = []
  for (const [r, root] of [whole, ...entries].flatMap(r => [[r, r], ...(r.contained || []).map(c => [c, r])])) {
    resources++
    if (!schema.definitions[r.resourceType]) { bySchema.push('no such type'); continue }
    const validate = schemaOf(r.resourceType)
    // the published schema does not know its own version 4.0.1
    if (!validate(r) && !validate.errors.every(e => e.instancePath === '/fhirVersion')) bySchema.push(ajv.errorsText(validate.errors))
    byInvariant.push(...broken(r, r.resourceType, r, root))
  }
  if (seeded) {
    console.log([name, bySchema.length ? 'ajv caught' : 'ajv missed', byInvariant.length ? 'fhirpath caught' : 'fhirpath missed'].join('\t'))
    continue
  }
  for (const e of [...bySchema, ...byInvariant]) { errors++; console.log(name + '\t' + e) }
}
if (!seeded) {
  console.log(`${files} files, ${resources} resources, ${asked.size} invariants asked, ${errors} errors` + (unknown.size ? `; not evaluated: ${[...unknown].map(([k, why]) => k + ' (' + why.slice(0, 60) + ')').join(', ')}` : ''))
  process.exit(errors ? 1 : 0)
}
