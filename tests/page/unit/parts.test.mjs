// SPDX-License-Identifier: GPL-3.0-or-later
import test from 'node:test';
import assert from 'node:assert/strict';
import { readNumber, tally, grouped, FOOT_GROUPS } from '../../../ui/lib/groups.js';
import { parse, address } from '../../../ui/lib/router.js';
import { rowsOf, movedWith, nameOfDated } from '../../../ui/lib/weeks.js';
import { scoresOf, firstAndLast } from '../../../ui/lib/scores.js';
import { readMesh } from '../../../ui/lib/mesh.js';
import { roundTop, tensionColour, deviationColour } from '../../../ui/lib/colours.js';
import { staircase } from '../../../ui/lib/staircase.js';
import { newVisit, withGiven } from '../../../ui/lib/state.js';
import { numbersOf, designText } from '../../../ui/lib/trade_off.js';

test('a number may bear a comma and is held to its range', () => {
    const row = { low: -10, high: 70, unit: 'deg' };
    assert.deepEqual(readNumber(' 31,5 ', row), { value: 31.5 });
    assert.deepEqual(readNumber('', row), { isEmpty: true });
    assert.match(readNumber('310', row).fault, /from -10 to 70/);
    assert.match(readNumber('3 1', row).fault, /not a number/);
    assert.match(readNumber('1e3', row).fault, /not a number/);
    assert.deepEqual(readNumber('70', row), { value: 70 });
});

test('not asked and no answer are counted apart from no', () => {
    const rows = ['a', 'b', 'c', 'd'].map((key) => ({ key }));
    assert.deepEqual(tally(rows, { a: 'yes', b: 'not asked', c: 'no' }), { all: 4, yes: 1, no: 1, notAsked: 1, open: 1 });
    assert.deepEqual(tally(rows, undefined), { all: 4, yes: 0, no: 0, notAsked: 0, open: 4 });
});

test('a finding no group names is shown all the same', () => {
    const groups = grouped([{ key: 'lunge_deg' }, { key: 'brand_new' }], FOOT_GROUPS);
    assert.deepEqual(groups.map((group) => group.rows.map((row) => row.key)), [['lunge_deg'], ['brand_new']]);
});

test('an address is read and written back', () => {
    assert.deepEqual(parse('#/p/0123456789abcdef/follow-up'), { area: 'follow-up', person: '0123456789abcdef' });
    assert.equal(address('follow-up', 'x'), '#/p/x/follow-up');
    assert.deepEqual(parse('#/p/x/nonsense'), { area: 'today', person: null });
    assert.deepEqual(parse(''), { area: 'today', person: null });
});

const dated = (what, week, more = {}) => ({ date: '', week, what, foot: 'left', text: what, only_if: null, moved_by: null, ...more });

test('an act moved by hand is named by act, foot and session; moving it again replaces it', () => {
    const timeline = [dated('radial shockwave', 6, { session: 1 }), dated('radial shockwave', 7, { session: 2 }), dated('review', 3, { date: '2026-03-23' }), dated('review', 9, { date: '2026-05-04' })];
    const once = movedWith(undefined, timeline[0], '2026-04-06');
    assert.deepEqual(once, [{ act: 'radial shockwave', foot: 'left', session: 1, date: '2026-04-06' }]);
    const both = movedWith(once, timeline[1], '2026-04-20');
    assert.deepEqual(movedWith(both, timeline[0], '2026-04-13'), [{ act: 'radial shockwave', foot: 'left', session: 2, date: '2026-04-20' }, { act: 'radial shockwave', foot: 'left', session: 1, date: '2026-04-13' }]);
    assert.equal(movedWith(once, timeline[0], null), undefined);
    assert.equal(rowsOf(timeline).length, 2);
    assert.notEqual(nameOfDated(timeline[2]), nameOfDated(timeline[3]));
});

test('scores of visits, forms and the tablet come together by foot', () => {
    const visits = [{ body: { visit_date: '2026-03-02', feet: { left: { heel_pain: { first_step_pain_0_10: 7 } }, right: { heel_pain: 'none' } } } }];
    const scores = [{ body: { date: '2026-04-13', foot: 'left', first_step_pain_0_10: 4 } }, { body: { entered_by: 'person', entered: '2026-05-25T08:00:00Z', scores: { foot: 'left', first_step_pain_0_10: 2, average_pain_0_10: 1 } } }];
    const all = scoresOf(visits, scores);
    assert.deepEqual(all.map((one) => [one.date, one.first, one.from]), [['2026-03-02', 7, 'visit'], ['2026-04-13', 4, 'follow-up'], ['2026-05-25', 2, 'tablet']]);
    assert.deepEqual(firstAndLast(all, 'left', 'first'), { from: 7, to: 2, weeks: 12 });
    assert.equal(firstAndLast(all, 'left', 'average'), null, 'one score is no change');
    assert.equal(firstAndLast(all, 'right', 'first'), null);
});

test('a surface is read, a cut one refused', () => {
    const bytes = new ArrayBuffer(12 + 36 + 12);
    const view = new DataView(bytes);
    [0x48, 0x57, 0x4d, 0x31].forEach((byte, i) => view.setUint8(i, byte));
    view.setUint32(4, 3, true);
    view.setUint32(8, 1, true);
    view.setFloat32(12 + 12, 5, true);
    view.setUint32(12 + 36 + 8, 2, true);
    const surface = readMesh(bytes);
    assert.equal(surface.points[3], 5);
    assert.deepEqual([...surface.corners], [0, 0, 2]);
    assert.equal(surface.colours, null);
    const coloured = new ArrayBuffer(bytes.byteLength + 9);
    new Uint8Array(coloured).set(new Uint8Array(bytes));
    new Uint8Array(coloured).set([0x48, 0x57, 0x4d, 0x32]);
    new Uint8Array(coloured).set([1, 2, 3], bytes.byteLength);
    assert.deepEqual([...(readMesh(coloured).colours ?? [])].slice(0, 3), [1, 2, 3]);
    assert.throws(() => readMesh(coloured.slice(0, bytes.byteLength)), /cut off/);
    assert.throws(() => readMesh(bytes.slice(0, 40)), /cut off/);
    assert.throws(() => readMesh(new ArrayBuffer(20)), /not a surface/);
});

test('a scale ends at a round number and its ends differ', () => {
    assert.equal(roundTop(0.93), 1);
    assert.equal(roundTop(1.0), 1);
    assert.equal(roundTop(7.2), 8);
    assert.notDeepEqual(tensionColour(0), tensionColour(1));
    assert.deepEqual(tensionColour(2), tensionColour(1));
    assert.notDeepEqual(deviationColour(0), deviationColour(1));
});

test('drivers add up from the reference to this foot; an unknown one is left out', () => {
    const part = (cause, mean, known = true) => ({ cause, known, midstance: { mean_pct: mean, band_pct: { p05: mean - 1, p95: mean + 1 } } });
    const steps = staircase({ parts: [part('mass', 12), part('calf', -2), part('arch', 0, false)], total: { midstance: { mean_pct: 10, band_pct: {} } } }, 'midstance');
    assert.deepEqual(steps.map((step) => [step.name, step.from, step.to]), [['reference foot', 0, 100], ['mass', 100, 112], ['calf', 112, 110], ['this foot', 0, 110]]);
});

test('a new visit never takes over answers, pain or a stale weight', () => {
    const last = { mass_kg: 90, mass_measured_on: '2025-01-01', height_cm: 171, red_flags: { fever: 'no' }, medicines: ['metformin'], chosen: ['tape'], overruled: [{}], feet: { left: { heel_pain: { first_step_pain_0_10: 7 }, monofilament: 'felt', lunge_deg: 30, scan: { file: 'x' } } } };
    const next = newVisit({ born: '1979-05-31', sex: 'female' }, last);
    assert.deepEqual(next.red_flags, {});
    assert.deepEqual(next.feet.left, { scan: { file: 'x' } });
    assert.equal('mass_kg' in next, false);
    assert.equal('chosen' in next || 'overruled' in next, false);
    assert.deepEqual(next.person, { birth_year: 1979, sex: 'female' });
    assert.equal(next.height_cm, 171);
});

test('what was given here counts as past from its day on, once', () => {
    const body = { visit_date: '2026-03-02', past_treatments: [{ act: 'tape', date: '2026-02-01', foot: 'left' }] };
    const given = [{ body: { act: 'tape', date: '2026-02-01', foot: 'left', batch: 'x' } }, { body: { act: 'corticosteroid injection', date: '2026-03-02', foot: 'left', dose_mg: 40, batch: 'B1' } }, { body: { act: 'tape', date: '2026-03-09', foot: 'left' } }];
    assert.deepEqual(withGiven(body, given).past_treatments, [...body.past_treatments, { act: 'corticosteroid injection', date: '2026-03-02', foot: 'left', dose_mg: 40 }]);
    assert.equal(withGiven({ visit_date: '2026-03-02' }, []).past_treatments, undefined, 'not asked stays not asked');
});

test('a design of the trade-off is read by its final solve, and by its terms', () => {
    const design = { order: { thickness_mm: 3.4, arch_fill_mm: 1 }, state: 'confirmed', why: '', binds: '', preview: { arch_peak_kPa: 90 }, final: { arch_peak_kPa: 94 } };
    assert.equal(numbersOf(design).arch_peak_kPa, 94);
    assert.equal(numbersOf({ ...design, final: undefined }).arch_peak_kPa, 90);
    const text = designText(design, [{ key: 'thickness_mm', name: 'shell thickness' }, { key: 'arch_fill_mm', name: 'arch fill' }]);
    assert.match(text, /^shell thickness 3\.4.mm, arch fill 1.*mm$/);
});
