// SPDX-License-Identifier: GPL-3.0-or-later
// The map on the device, its scale, and how far one skin lies from another.
import test from 'node:test';
import assert from 'node:assert/strict';
import { gridSurface, rangeOf, limitText } from '../../../ui/lib/press.js';
import { roundAbove, pressColour } from '../../../ui/lib/colours.js';
import { deviation } from '../../../ui/lib/compare.js';
import { halfWidth } from '../../../ui/lib/reasons.js';
import { keyStem, keyUnit } from '../../../ui/lib/format.js';

/** A flat sheet of rows x columns points, 1 mm apart, at height z. */
function sheet(rows, columns, z) {
    const top_mm = [];
    for (let i = 0; i < rows; i++) for (let j = 0; j < columns; j++) top_mm.push(i, j, z);
    return { rows, columns, top_mm };
}

test('a grid becomes triangles that cover it once', () => {
    const { points, corners } = gridSurface(sheet(5, 4, 2));
    let area = 0;
    for (let t = 0; t < corners.length; t += 3) {
        const [a, b, c] = [0, 1, 2].map((k) => [points[3 * corners[t + k]], points[3 * corners[t + k] + 1]]);
        const twice = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        assert.ok(twice > 0, 'every triangle looks up');
        area += twice / 2;
    }
    assert.equal(area, 4 * 3);
    assert.throws(() => gridSurface({ rows: 5, columns: 4, top_mm: [1, 2, 3] }), /does not fit/);
});

test('a scale ends at a round number and the colours darken towards it', () => {
    assert.deepEqual([249, 250, 3.5, 8.42, 0.031, 1000].map(roundAbove), [250, 250, 4, 10, 0.04, 1000]);
    assert.equal(roundAbove(0), 1);
    // Relative luminance of WCAG 2.2.
    const light = (share) => pressColour(share).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)).reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
    for (let i = 0; i < 20; i++) assert.ok(light((i + 1) / 20) < light(i / 20), `not darker at ${(i + 1) / 20}`);
    assert.deepEqual(rangeOf([3, -1, 2]), { low: -1, high: 3 });
});

test('a limit is written with its ends, one that is not known not at all', () => {
    const limit = { mean_low_kPa: 60, mean_high_kPa: 100, peak_low_kPa: 150, peak_high_kPa: 150 };
    assert.equal(limitText(limit, 'mean'), '60 to 100');
    assert.equal(limitText(limit, 'peak'), '150');
    assert.equal(limitText({ source: 'x' }, 'mean'), '');
});

test('a skin 2 mm outside another is +2 from it, also of the other side turned over', () => {
    const low = gridSurface(sheet(9, 9, 0));
    const high = gridSurface({ rows: 2, columns: 2, top_mm: [3, 3, 2, 3, 5, 2, 5, 3, 2, 5, 5, 2] });
    for (const far of deviation(high, low, false)) assert.ok(Math.abs(far - 2) < 1e-6);
    const mirrored = sheet(9, 9, 0);
    for (let i = 1; i < mirrored.top_mm.length; i += 3) mirrored.top_mm[i] = -mirrored.top_mm[i];
    const turned = gridSurface(mirrored);
    for (let t = 0; t < turned.corners.length; t += 3) [turned.corners[t], turned.corners[t + 1]] = [turned.corners[t + 1], turned.corners[t]]; // looks up again
    for (const far of deviation(high, turned, true)) assert.ok(Math.abs(far - 2) < 1e-6);
});

test('a spread is found under its key in the unit of its measure', () => {
    const scan = { spread: { foot_length_half_width_95_mm: 0.42, arch_index_half_width_95: 0.0061, ball_girth_half_width_95_mm: null } };
    assert.equal(halfWidth(scan, 'foot_length_mm'), 0.42);
    assert.equal(halfWidth(scan, 'arch_index'), 0.0061);
    assert.equal(halfWidth(scan, 'ball_girth_mm'), null);
    assert.equal(halfWidth({}, 'foot_length_mm'), null);
    assert.equal(keyStem('plantar_area_cm2'), 'plantar_area');
    assert.equal(keyUnit('plantar_area_cm2'), 'cm²');
});
