// SPDX-License-Identifier: GPL-3.0-or-later
import test from 'node:test';
import assert from 'node:assert/strict';
import * as format from '../../../ui/lib/format.js';
import { addDays, daysBetween, weeksBetween, isDate } from '../../../ui/lib/dates.js';

test('a number has a true minus and no idle zeros', () => {
    assert.equal(format.number(-4.04, 1), '\u22124');
    assert.equal(format.number(283.71, 1), '283.7');
    assert.equal(format.number(-0.04, 1), '0');
    assert.equal(format.number(NaN), 'unknown');
    assert.equal(format.signed(3.2), '+3.2');
    assert.equal(format.signed(0.04), '0');
});

test('degrees stand at the number, other units apart', () => {
    assert.equal(format.quantity(4, 'deg'), '4°');
    assert.equal(format.quantity(4.5, 'mm'), '4.5\u202fmm');
    assert.equal(format.quantity(3, ''), '3');
});

test('a key is told as words and unit', () => {
    assert.equal(format.keyText('foot_length_mm'), 'foot length');
    assert.equal(format.keyUnit('foot_length_mm'), 'mm');
    assert.equal(format.keyText('first_step_pain_0_10'), 'first step pain');
    assert.equal(format.keyUnit('sole_filled_mm2'), 'mm²');
    assert.equal(format.keyUnit('pulses'), '');
});

// Gregorian calendar, common knowledge: 2024 is a leap year, 2026 is not.
test('days are counted by the calendar', () => {
    assert.equal(addDays('2024-02-28', 1), '2024-02-29');
    assert.equal(addDays('2026-02-28', 1), '2026-03-01');
    assert.equal(daysBetween('2026-03-02', '2026-05-25'), 84);
    assert.equal(weeksBetween('2026-03-02', '2026-03-15'), 1);
    assert.equal(isDate('2026-02-30'), false);
    assert.equal(isDate('2026-02-28'), true);
    // Clocks go forward in the night to 29 March 2026 in Europe: no day is lost.
    assert.equal(daysBetween('2026-03-28', '2026-03-30'), 2);
});

test('a date is written out, and no date is not a date', () => {
    assert.equal(format.dateText('2026-03-02'), '2 Mar 2026');
    assert.equal(format.dateText(undefined), 'no date');
    assert.equal(format.momentText('2026-03-02T14:05:00Z'), '2 Mar 2026, 14:05');
});

test('a verdict is its word and its reason', () => {
    assert.deepEqual(format.verdictParts('NOT RELEASED: red flag, refer first: fever'), { word: 'NOT RELEASED', reason: 'Red flag, refer first: fever' });
    assert.deepEqual(format.verdictParts('Released'), { word: 'Released', reason: '' });
});
