// SPDX-License-Identifier: GPL-3.0-or-later
// Kinematics of the drawn foot against the formulas of the contract, written out a second way here:
// with rotation matrices, and by geometry that must hold for any rigid motion.
import test from 'node:test';
import assert from 'node:assert/strict';
import * as walk from '../../../ui/lib/walk.js';

const near = (got, want, tolerance = 1e-9) => assert.ok(Math.abs(got - want) <= tolerance, `${got} is not ${want} within ${tolerance}`);
const foot = {
    heel_x_mm: 37, origin_mm: [45, 0, 15.5],
    rays: [-28, -9, 8, 24, 38].map((y, i) => ({ hinge_mm: [113 - 4 * i, y, 48 - 5 * i], head_mm: [203 - 6 * i, y, 24 - i], windlass_radius_mm: 9 - i })),
};
const pose = { percent: 82.5, solved: true, heel_height_mm: 41.8, hindfoot_deg: -19.25, roll_deg: 0, toes_deg: 0, hinges_down_mm: [4, 4, 2.8, 0, 0], rays_deg: [6.5, 7, 6.8, 5.9, 5.5], slips_bw: [0.3, 0.3, 0.2, 0.1, 0] };
const still = { ...pose, heel_height_mm: 0, hindfoot_deg: 0, rays_deg: [0, 0, 0, 0, 0], hinges_down_mm: [0, 0, 0, 0, 0], toes_deg: 0 };

test('the scan pose leaves everything where it is', () => {
    for (const at of [[100, 10, 40], [0, 0, 0], [250, -30, 12]])
        for (const got of [walk.hindfootPoint(foot, still, at), walk.rayPoint(foot, still, 2, at), walk.toePoint(foot, still, 2, at)])
            got.forEach((value, i) => near(value, at[i]));
});

test('the heel pad is the pivot, and the hindfoot is rigid', () => {
    const heel = walk.hindfootPoint(foot, pose, [37, 0, 0]);
    near(heel[0], 37);
    near(heel[2], 41.8);
    const [a, b] = [[60, 0, 30], [110, 0, 70]];
    const [ma, mb] = [a, b].map((at) => walk.hindfootPoint(foot, pose, at));
    near(Math.hypot(mb[0] - ma[0], mb[2] - ma[2]), Math.hypot(50, 40));
    near(walk.pitchOf(ma, mb) - walk.pitchOf(a, b), -19.25);
});

test('a ray hangs on its moved hinge and turns by hindfoot plus flattening', () => {
    foot.rays.forEach((ray, i) => {
        const hinge = walk.rayPoint(foot, pose, i, ray.hinge_mm);
        const sunk = [ray.hinge_mm[0], ray.hinge_mm[1], ray.hinge_mm[2] - pose.hinges_down_mm[i]];
        walk.hindfootPoint(foot, pose, sunk).forEach((value, k) => near(hinge[k], value));
        const head = walk.rayPoint(foot, pose, i, ray.head_mm);
        near(walk.pitchOf(hinge, head) - walk.pitchOf(ray.hinge_mm, ray.head_mm), pose.hindfoot_deg + pose.rays_deg[i], 1e-9);
    });
});

test('toes keep their angle to the floor', () => {
    const head = foot.rays[0].head_mm;
    const tip = [head[0] + 40, head[1], head[2]];
    near(walk.pitchOf(walk.toePoint(foot, pose, 0, head), walk.toePoint(foot, pose, 0, tip)), 0);
});

test('roll lifts the outer side in proportion', () => {
    const rolled = { ...still, roll_deg: 2 };
    near(walk.hindfootPoint(foot, rolled, [60, 30, 20])[2] - 20, 30 * (2 * Math.PI) / 180);
});

test('a slip leaves the heel, touches the head’s circle from below and never cuts it', () => {
    foot.rays.forEach((ray, i) => {
        const line = walk.slipLine(foot, pose, i);
        const from = walk.hindfootPoint(foot, pose, foot.origin_mm);
        const head = walk.rayPoint(foot, pose, i, ray.head_mm);
        line[0].forEach((value, k) => near(value, from[k]));
        for (const at of line.slice(1, -1)) near(Math.hypot(at[0] - head[0], at[2] - head[2]), ray.windlass_radius_mm, 1e-9);
        // Tangent: radius and line at right angles, the line below the middle of the head.
        const [dx, dz] = [line[1][0] - from[0], line[1][2] - from[2]];
        near((line[1][0] - head[0]) * dx + (line[1][2] - head[2]) * dz, 0, 1e-6);
        assert.ok(line[1][2] < head[2]);
    });
});

test('skin far behind follows the hindfoot, far ahead the toes, and moves without a jump', () => {
    const points = new Float32Array([10, 0, 30, 150, -28, 30, 260, -28, 10]);
    const weights = walk.skinWeights(foot, points);
    assert.equal(weights.ray[0], 0);
    assert.equal(weights.ray[1], 1);
    assert.equal(weights.toe[1], 0);
    assert.equal(weights.toe[2], 1);
    const out = new Float32Array(9);
    walk.poseSkin(foot, pose, points, weights, out);
    walk.hindfootPoint(foot, pose, [10, 0, 30]).forEach((value, k) => near(out[k], value, 1e-4));
    walk.rayPoint(foot, pose, 0, [150, -28, 30]).forEach((value, k) => near(out[3 + k], value, 1e-4));
});

test('only solved poses are shown', () => {
    const poses = [{ ...pose, percent: 10 }, { ...pose, percent: 12.5, solved: false }, { ...pose, percent: 15 }];
    assert.equal(walk.poseAt(poses, 12.6).percent, 15);
    assert.equal(walk.poseAt([poses[1]], 12.5), null);
    assert.equal(walk.curveIndex(82.5), 33);
});
