// SPDX-License-Identifier: GPL-3.0-or-later
// Kinematics of the walking foot as the program solved it: no pose is made up or smoothed here.
//
// Frame of walk.json: foot frame of a left foot, mm: x to the toes, y lateral, z up. The hindfoot turns
// by p about the heel's pad (nose up +) and rolls; a ray turns by p + its flattening about its moved
// hinge, which the talus has carried down; the toes keep their angle to the floor about the moved head.

/** @typedef {import('./types.d.ts').WalkFoot} WalkFoot */
/** @typedef {import('./types.d.ts').Pose} Pose */
/** @typedef {import('./types.d.ts').Point} Point */

const RAD = Math.PI / 180;

/** @param {WalkFoot} foot @param {Pose} pose @param {Point} at scan pose @returns {Point} */
export function hindfootPoint(foot, pose, [x, y, z]) {
    const p = pose.hindfoot_deg * RAD;
    const dx = x - foot.heel_x_mm;
    return [
        foot.heel_x_mm + Math.cos(p) * dx - Math.sin(p) * z,
        y,
        pose.heel_height_mm + Math.sin(p) * dx + Math.cos(p) * z + pose.roll_deg * RAD * y,
    ];
}

/** @param {Point} at @param {Point} was the pivot before @param {Point} now the pivot after @param {number} angle @returns {Point} */
function turnAbout([x, y, z], was, now, angle) {
    const [dx, dz] = [x - was[0], z - was[2]];
    return [
        now[0] + Math.cos(angle) * dx - Math.sin(angle) * dz,
        now[1] + (y - was[1]),
        now[2] + Math.sin(angle) * dx + Math.cos(angle) * dz,
    ];
}

/** @param {WalkFoot} foot @param {Pose} pose @param {number} ray @param {Point} at @returns {Point} */
export function rayPoint(foot, pose, ray, at) {
    const hinge = foot.rays[ray].hinge_mm;
    const sunk = /** @type {Point} */ ([hinge[0], hinge[1], hinge[2] - pose.hinges_down_mm[ray]]);
    return turnAbout(at, hinge, hindfootPoint(foot, pose, sunk), (pose.hindfoot_deg + pose.rays_deg[ray]) * RAD);
}

/** @param {WalkFoot} foot @param {Pose} pose @param {number} ray @param {Point} at @returns {Point} */
export function toePoint(foot, pose, ray, at) {
    const head = foot.rays[ray].head_mm;
    return turnAbout(at, head, rayPoint(foot, pose, ray, head), pose.toes_deg * RAD);
}

/** The two rays beside a point and how much each counts. @param {WalkFoot} foot @param {number} y */
export function raysBeside(foot, y) {
    const ys = foot.rays.map((ray) => ray.head_mm[1]);
    if (y <= ys[0]) return { a: 0, b: 0, share: 0 };
    for (let i = 0; i + 1 < ys.length; i++)
        if (y <= ys[i + 1]) return { a: i, b: i + 1, share: (y - ys[i]) / (ys[i + 1] - ys[i]) };
    return { a: ys.length - 1, b: ys.length - 1, share: 0 };
}

/** 0 before a, 1 behind b, smooth between. @param {number} a @param {number} b @param {number} x */
function blend(a, b, x) {
    const t = Math.min(1, Math.max(0, (x - a) / (b - a)));
    return t * t * (3 - 2 * t);
}

/**
 * How much each point of the skin follows hindfoot, rays and toes: a picture's choice, made once.
 * Skin bends over 2 x SOFT about a joint; the bones above are exact.
 * @param {WalkFoot} foot @param {Float32Array} points scan pose, left foot's frame
 */
export function skinWeights(foot, points) {
    const SOFT_HINGE = 22; // mm
    const SOFT_HEAD = 9; // mm
    const count = points.length / 3;
    const out = { ray: new Float32Array(count), toe: new Float32Array(count), a: new Uint8Array(count), b: new Uint8Array(count),
        share: new Float32Array(count) };
    for (let i = 0; i < count; i++) {
        const [x, y, z] = [points[3 * i], points[3 * i + 1], points[3 * i + 2]];
        const near = raysBeside(foot, y);
        const mix = (/** @type {(ray: any) => number} */ of) => (1 - near.share) * of(foot.rays[near.a]) + near.share * of(foot.rays[near.b]);
        const hingeX = mix((ray) => ray.hinge_mm[0]);
        const headX = mix((ray) => ray.head_mm[0]);
        // The shin stands on the hindfoot: above the hinge the line leans forward.
        const lean = Math.max(0, z - mix((ray) => ray.hinge_mm[2])) * 0.6;
        out.ray[i] = blend(hingeX + lean - SOFT_HINGE, hingeX + lean + SOFT_HINGE, x);
        out.toe[i] = blend(headX - SOFT_HEAD + 2, headX + SOFT_HEAD + 4, x);
        out.a[i] = near.a;
        out.b[i] = near.b;
        out.share[i] = near.share;
    }
    return out;
}

/**
 * The skin at one instant.
 * @param {WalkFoot} foot @param {Pose} pose @param {Float32Array} points
 * @param {ReturnType<typeof skinWeights>} weights @param {Float32Array} out
 */
export function poseSkin(foot, pose, points, weights, out) {
    for (let i = 0; i < weights.ray.length; i++) {
        /** @type {Point} */
        const at = [points[3 * i], points[3 * i + 1], points[3 * i + 2]];
        const hind = hindfootPoint(foot, pose, at);
        let [x, y, z] = hind;
        const w = weights.ray[i];
        if (w > 0) {
            const front = frontPoint(foot, pose, weights, i, at);
            x += w * (front[0] - x);
            y += w * (front[1] - y);
            z += w * (front[2] - z);
        }
        out[3 * i] = x;
        out[3 * i + 1] = y;
        out[3 * i + 2] = z;
    }
}

/** @param {WalkFoot} foot @param {Pose} pose @param {ReturnType<typeof skinWeights>} weights @param {number} i @param {Point} at */
function frontPoint(foot, pose, weights, i, at) {
    const { a, b, share, toe } = weights;
    const one = forefootPoint(foot, pose, a[i], toe[i], at);
    if (share[i] === 0) return one;
    const two = forefootPoint(foot, pose, b[i], toe[i], at);
    return one.map((value, k) => value + share[i] * (two[k] - value));
}

/** @param {WalkFoot} foot @param {Pose} pose @param {number} ray @param {number} toe @param {Point} at */
function forefootPoint(foot, pose, ray, toe, at) {
    if (toe === 0) return rayPoint(foot, pose, ray, at);
    const stiff = rayPoint(foot, pose, ray, at);
    const bent = toePoint(foot, pose, ray, at);
    return stiff.map((value, k) => value + toe * (bent[k] - value));
}

/**
 * The line of one fascia slip: straight from the heel to the lower tangent of the head's circle, round
 * it, and on to the toe.
 * @param {WalkFoot} foot @param {Pose} pose @param {number} ray @returns {Point[]}
 */
export function slipLine(foot, pose, ray) {
    const from = hindfootPoint(foot, pose, foot.origin_mm);
    const head = rayPoint(foot, pose, ray, foot.rays[ray].head_mm);
    const r = foot.rays[ray].windlass_radius_mm;
    const [dx, dz] = [head[0] - from[0], head[2] - from[2]];
    const far = Math.hypot(dx, dz);
    const towards = Math.atan2(dz, dx);
    // From the heel the tangent leans below the line to the head's middle.
    const tangent = towards - Math.asin(Math.min(1, r / far));
    const start = tangent - Math.PI / 2; // where the line meets the circle, seen from its middle
    const end = pose.toes_deg * RAD - Math.PI / 2;
    /** @type {Point[]} */
    const line = [from];
    const STEPS = 6;
    for (let i = 0; i <= STEPS; i++) {
        const angle = start + ((end - start) * i) / STEPS;
        line.push([head[0] + r * Math.cos(angle), head[1], head[2] + r * Math.sin(angle)]);
    }
    const last = line[line.length - 1];
    const toe = pose.toes_deg * RAD;
    line.push([last[0] + 14 * Math.cos(toe), last[1], last[2] + 14 * Math.sin(toe)]);
    return line;
}

/** Angle to the ground of the way from one point to another, degrees, nose up +. @param {Point|number[]} a @param {Point|number[]} b */
export function pitchOf(a, b) {
    return Math.atan2(b[2] - a[2], b[0] - a[0]) / RAD;
}

/** The solved pose next to a per cent of stance; never one between two. @param {Pose[]} poses @param {number} percent */
export function poseAt(poses, percent) {
    let best = null;
    for (const pose of poses)
        if (pose.solved && (!best || Math.abs(pose.percent - percent) < Math.abs(best.percent - percent))) best = pose;
    return best;
}

/** Where per-cent points lie in the 41-point curves. @param {number} percent */
export function curveIndex(percent) {
    return Math.round(percent / 2.5);
}
