// SPDX-License-Identifier: GPL-3.0-or-later
// What a treatment puts under or on the walking foot: shell, raise, tape. The model's shell stands on the
// floor, so it is drawn there, and stays behind when the heel rises.
import * as THREE from '../vendor/three.js';
import { hindfootPoint, rayPoint } from '../lib/walk.js';
import { matte } from './scene.js';

/** @typedef {import('../lib/types.d.ts').WalkFoot} WalkFoot */
/** @typedef {import('../lib/types.d.ts').Pose} Pose */
/** @typedef {import('../lib/types.d.ts').Point} Point */
/** @typedef {import('../lib/types.d.ts').Drawn} Drawn */

const SHELL = 0x3597ba; // all three are seen on a light and on a dark ground
const RAISE = 0x948f84;
const TAPE = 0x7d7fd1;
const STEPS = 24;

/** A surface through lines of the same count of points. */
class Sheet {
    /** @param {number} lines @param {number} points @param {THREE.Material} material */
    constructor(lines, points, material) {
        this.points = points;
        this.at = new Float32Array(lines * points * 3);
        const corners = [];
        for (let l = 0; l + 1 < lines; l++)
            for (let i = 0; i + 1 < points; i++) {
                const a = l * points + i;
                corners.push(a, a + 1, a + points, a + 1, a + points + 1, a + points);
            }
        const geometry = new THREE.BufferGeometry();
        geometry.setAttribute('position', new THREE.BufferAttribute(this.at, 3));
        geometry.setIndex(corners);
        this.mesh = new THREE.Mesh(geometry, material);
        this.mesh.frustumCulled = false;
    }

    /** @param {Point[][]} lines */
    follow(lines) {
        lines.flat().forEach((point, i) => this.at.set(point, 3 * i));
        this.mesh.geometry.attributes.position.needsUpdate = true;
        this.mesh.geometry.computeVertexNormals();
    }
}

export class WalkAids {
    /** @param {WalkFoot} foot @param {Drawn} drawn */
    constructor(foot, drawn) {
        this.foot = foot;
        this.all = new THREE.Group();
        this.ball = foot.rays[0].head_mm[0];
        /** @type {Sheet[]} */
        this.tapes = [];
        if (drawn.shell) this.addShell(drawn);
        if (drawn.heel_raise_mm > 0) this.addRaise(drawn.heel_raise_mm);
        if (drawn.tape) this.tapes = [0, 2, 4].map(() => this.add(new Sheet(2, 2, matte({ colour: TAPE, isBothSides: true }))));
    }

    /** @param {Sheet} sheet */
    add(sheet) {
        this.all.add(sheet.mesh);
        sheet.mesh.renderOrder = 3;
        return sheet;
    }

    /** Height of a raise's slope, mm. @param {number} x @param {number} raise */
    slope(x, raise) {
        return raise * Math.min(1, Math.max(0, (this.ball - x) / (this.ball - this.foot.heel_x_mm)));
    }

    /** Highest where the model's shell meets the inner arch. @param {Drawn} drawn */
    addShell(drawn) {
        const length = this.foot.foot_length_mm;
        const [top, , height] = this.foot.arch_mm;
        const across = this.foot.rays.map((ray) => ray.head_mm[1]);
        const [inner, outer] = [across[0], across[across.length - 1]];
        const lines = across.map((y) => Array.from({ length: STEPS }, (_, i) => {
            const share = i / (STEPS - 1);
            const x = 8 + (this.ball - 20) * share;
            const wide = 0.68 + 0.32 * share; // narrower at the heel
            const rise = (height + drawn.arch_fill_mm) * (1 - (0.8 * (y - inner)) / (outer - inner));
            const arch = rise * Math.exp(-(((x - top) / (0.13 * length)) ** 2));
            const cup = 9 * Math.max(0, 1 - x / (0.3 * length)) * ((2 * y - inner - outer) / (outer - inner)) ** 2;
            return /** @type {Point} */ ([x, y * wide, 0.6 + arch + cup + this.slope(x, drawn.heel_raise_mm)]);
        }));
        this.add(new Sheet(across.length, STEPS, matte({ colour: SHELL, isBothSides: true }))).follow(lines);
    }

    /** @param {number} raise mm */
    addRaise(raise) {
        const end = 0.45 * this.ball;
        const side = (/** @type {number} */ y) => [6, end].map((x) => /** @type {Point} */ ([x, y, x === 6 ? raise : this.slope(x, raise)]));
        const foot = (/** @type {number} */ y) => [6, end].map((x) => /** @type {Point} */ ([x, y, 0]));
        this.add(new Sheet(4, 2, matte({ colour: RAISE, isBothSides: true }))).follow([foot(-24), side(-24), side(24), foot(24)]);
    }

    /** Tape goes with the skin from the heel to behind the heads. @param {Pose} pose */
    show(pose) {
        this.tapes.forEach((tape, i) => {
            const ray = [0, 2, 4][i];
            const [x, y] = this.foot.rays[ray].head_mm;
            const line = (/** @type {number} */ off) => /** @type {Point[]} */ ([
                hindfootPoint(this.foot, pose, [this.foot.heel_x_mm, 0.6 * y + off, 1]), rayPoint(this.foot, pose, ray, [x - 8, y + off, 3])]);
            tape.follow([line(-5), line(5)]);
        });
    }
}
