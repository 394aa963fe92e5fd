// SPDX-License-Identifier: GPL-3.0-or-later
// Values in nested JSON by a dotted path, without changing what was there; and the three-way merge
// that lets two people write one record.

/** @typedef {Record<string, any>} Tree */

/** @param {any} value */
function isTree(value) {
    return value !== null && typeof value === 'object' && !Array.isArray(value);
}

/** @param {Tree} tree @param {string} path */
export function valueAt(tree, path) {
    /** @type {any} */
    let at = tree;
    for (const key of path.split('.')) {
        if (!isTree(at)) return undefined;
        at = at[key];
    }
    return at;
}

/**
 * A copy with one value set; undefined takes the key away. A word standing where a branch is needed
 * ("heel_pain": "none") is replaced by the branch.
 * @param {Tree} tree @param {string} path @param {any} value @returns {Tree}
 */
export function withValue(tree, path, value) {
    const [key, ...rest] = path.split('.');
    const copy = { ...tree };
    if (rest.length > 0) copy[key] = withValue(isTree(copy[key]) ? copy[key] : {}, rest.join('.'), value);
    else if (value === undefined) delete copy[key];
    else copy[key] = value;
    return copy;
}

/** Equal as JSON, whatever the order of keys. @param {any} a @param {any} b @returns {boolean} */
export function same(a, b) {
    if (a === b) return true;
    if (Array.isArray(a) && Array.isArray(b)) return a.length === b.length && a.every((x, i) => same(x, b[i]));
    if (!isTree(a) || !isTree(b)) return false;
    const keys = Object.keys(a);
    return keys.length === Object.keys(b).length && keys.every((key) => key in b && same(a[key], b[key]));
}

/**
 * @typedef {{path: string, mine: any, theirs: any}} Conflict
 * @typedef {{body: Tree, taken: string[], conflicts: Conflict[]}} Merged
 */

/**
 * What both wrote, joined: theirs where only they changed, mine where only I did. Where both wrote
 * something else, mine stands in the body and the pair is a conflict for a person to decide.
 * @param {Tree} base @param {Tree} mine @param {Tree} theirs @param {string} [prefix] @returns {Merged}
 */
export function merge(base, mine, theirs, prefix = '') {
    /** @type {Merged} */
    const out = { body: {}, taken: [], conflicts: [] };
    for (const key of new Set([...Object.keys(theirs), ...Object.keys(mine)])) {
        const path = prefix + key;
        const [was, m, t] = [base?.[key], mine[key], theirs[key]];
        if (isTree(m) && isTree(t)) {
            const inner = merge(isTree(was) ? was : {}, m, t, `${path}.`);
            out.body[key] = inner.body;
            out.taken.push(...inner.taken);
            out.conflicts.push(...inner.conflicts);
            continue;
        }
        const chosen = same(m, was) ? t : m;
        if (chosen !== undefined) out.body[key] = chosen;
        if (same(m, t)) continue;
        if (same(m, was)) out.taken.push(path);
        else if (!same(t, was)) out.conflicts.push({ path, mine: m, theirs: t });
    }
    return out;
}
