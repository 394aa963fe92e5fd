// SPDX-License-Identifier: GPL-3.0-or-later
import test from 'node:test';
import assert from 'node:assert/strict';
import { valueAt, withValue, same, merge } from '../../../ui/lib/paths.js';
import { changedKeys } from '../../../ui/lib/record.js';

const base = { mass_kg: 82, feet: { left: { lunge_deg: 31, pulses: 'present' }, right: { heel_pain: 'none' } } };

test('a value is set without touching what was there', () => {
    const next = withValue(base, 'feet.left.lunge_deg', 35);
    assert.equal(valueAt(next, 'feet.left.lunge_deg'), 35);
    assert.equal(valueAt(base, 'feet.left.lunge_deg'), 31);
    assert.equal(next.feet.right, base.feet.right);
});

test('undefined takes a key away: absent is not "no"', () => {
    const next = withValue(base, 'feet.left.pulses', undefined);
    assert.equal('pulses' in next.feet.left, false);
});

test('a word gives way to a branch', () => {
    const next = withValue(base, 'feet.right.heel_pain.weeks_since_onset', 4);
    assert.deepEqual(next.feet.right.heel_pain, { weeks_since_onset: 4 });
});

test('equal is equal as JSON', () => {
    assert.ok(same({ a: 1, b: [1, { c: 2 }] }, { b: [1, { c: 2 }], a: 1 }));
    assert.ok(!same({ a: 1 }, { a: 1, b: undefined }));
    assert.ok(!same([1, 2], [2, 1]));
});

test('what only one wrote is kept from both', () => {
    const mine = withValue(base, 'mass_kg', 84);
    const theirs = withValue(base, 'feet.left.lunge_deg', 29);
    const merged = merge(base, mine, theirs);
    assert.deepEqual(merged.body, { mass_kg: 84, feet: { left: { lunge_deg: 29, pulses: 'present' }, right: { heel_pain: 'none' } } });
    assert.deepEqual(merged.taken, ['feet.left.lunge_deg']);
    assert.deepEqual(merged.conflicts, []);
});

test('what both wrote differently is asked, never chosen silently', () => {
    const merged = merge(base, withValue(base, 'mass_kg', 84), withValue(base, 'mass_kg', 90));
    assert.deepEqual(merged.conflicts, [{ path: 'mass_kg', mine: 84, theirs: 90 }]);
    assert.equal(merged.body.mass_kg, 84);
});

test('both wrote the same: no conflict; taking away counts as writing', () => {
    assert.deepEqual(merge(base, withValue(base, 'mass_kg', 90), withValue(base, 'mass_kg', 90)).conflicts, []);
    const away = merge(base, withValue(base, 'mass_kg', undefined), base);
    assert.equal('mass_kg' in away.body, false);
    const both = merge(base, withValue(base, 'mass_kg', undefined), withValue(base, 'mass_kg', 90));
    assert.deepEqual(both.conflicts, [{ path: 'mass_kg', mine: undefined, theirs: 90 }]);
});

test('changed keys are named for the history', () => {
    assert.deepEqual(changedKeys(base, withValue(base, 'feet.left.lunge_deg', 1)), ['feet.left.lunge_deg']);
});
