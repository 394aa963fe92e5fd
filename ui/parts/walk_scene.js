// SPDX-License-Identifier: GPL-3.0-or-later
// The patient's own foot at one solved instant: skin, bones, and the fascia as a band lit by tension.
import * as THREE from '../vendor/three.js';
import { html, useRef, useState, useEffect } from '../lib/ui.js';
import { hindfootPoint, rayPoint, toePoint, slipLine, skinWeights, poseSkin, pitchOf } from '../lib/walk.js';
import { tensionColour } from '../lib/colours.js';
import { Room, matte, SKIN } from './scene.js';
import { WalkAids } from './walk_aids.js';

/** @typedef {import('../lib/types.d.ts').Point} Point */
/** @typedef {import('../lib/types.d.ts').WalkFoot} WalkFoot */
/** @typedef {import('../lib/types.d.ts').Pose} Pose */
/** @typedef {import('./scene.js').Scene} Scene */

const ROUND = 10; // corners of a tube

/** A tube along a line, wider than thick; made again for each pose. */
class Tube {
    /** @param {number} points @param {number} half across, mm @param {number} thick half height, mm @param {THREE.Material} material */
    constructor(points, half, thick, material) {
        this.half = half;
        this.thick = thick;
        this.at = new Float32Array(points * ROUND * 3);
        const corners = [];
        for (let i = 0; i + 1 < points; i++)
            for (let k = 0; k < ROUND; k++) {
                const [a, b] = [i * ROUND + k, i * ROUND + ((k + 1) % ROUND)];
                corners.push(a, b, a + ROUND, b, b + ROUND, a + ROUND);
            }
        const geometry = new THREE.BufferGeometry();
        geometry.setAttribute('position', new THREE.BufferAttribute(this.at, 3));
        geometry.setIndex(corners);
        this.mesh = new THREE.Mesh(geometry, material);
        this.mesh.frustumCulled = false;
    }

    /** @param {Point[]} line */
    follow(line) {
        line.forEach((point, i) => {
            const [a, b] = [line[Math.max(0, i - 1)], line[Math.min(line.length - 1, i + 1)]];
            const along = Math.atan2(b[2] - a[2], b[0] - a[0]);
            for (let k = 0; k < ROUND; k++) {
                const turn = (2 * Math.PI * k) / ROUND;
                const up = this.thick * Math.cos(turn);
                const at = 3 * (i * ROUND + k);
                this.at[at] = point[0] - Math.sin(along) * up;
                this.at[at + 1] = point[1] + this.half * Math.sin(turn);
                this.at[at + 2] = point[2] + Math.cos(along) * up;
            }
        });
        this.mesh.geometry.attributes.position.needsUpdate = true;
        this.mesh.geometry.computeVertexNormals();
    }
}

class WalkScene {
    /** @param {Scene} room @param {WalkFoot} foot @param {import('../lib/mesh.js').Surface|null} surface in the side's own frame @param {import('../lib/types.d.ts').Drawn|undefined} drawn */
    constructor(room, foot, surface, drawn) {
        this.room = room;
        this.foot = foot;
        this.all = new THREE.Group();
        this.all.scale.y = room.side === 'right' ? -1 : 1; // walk.json is a left foot's
        room.scene.add(this.all);
        this.addFloor();
        if (surface) this.addSkin(surface);
        this.light = new THREE.MeshStandardMaterial({ roughness: 0.5, side: THREE.DoubleSide, transparent: true });
        this.slips = foot.rays.map((_, ray) => this.add(new Tube(9, ray < 3 ? 4.6 : 3.4, ray < 2 ? 3 : 2.4, this.light)));
        for (const slip of this.slips) slip.mesh.renderOrder = 3; // drawn over the skin: it is what this picture is about
        const bone = matte({ colour: 0xf2ead8, isBothSides: true });
        this.bones = foot.rays.map(() => this.add(new Tube(2, 3.6, 3.6, bone)));
        this.heel = this.add(new Tube(2, 8, 9, bone));
        this.toes = foot.rays.map(() => this.add(new Tube(2, 3, 3, bone)));
        this.aids = drawn ? new WalkAids(foot, drawn) : null;
        if (this.aids) this.all.add(this.aids.all);
        this.frame();
    }

    /** @param {Tube} tube */
    add(tube) {
        this.all.add(tube.mesh);
        return tube;
    }

    addFloor() {
        const floor = new THREE.Mesh(new THREE.PlaneGeometry(420, 190),
            new THREE.MeshBasicMaterial({ color: 0x8d8a82, transparent: true, opacity: 0.22, side: THREE.DoubleSide, depthWrite: false }));
        floor.position.set(135, 0, -0.5);
        this.all.add(floor);
    }

    /** @param {import('../lib/mesh.js').Surface} surface */
    addSkin(surface) {
        this.rest = new Float32Array(surface.points);
        if (this.room.side === 'right') for (let i = 1; i < this.rest.length; i += 3) this.rest[i] = -this.rest[i];
        this.weights = skinWeights(this.foot, this.rest);
        this.skinAt = new Float32Array(this.rest);
        const geometry = new THREE.BufferGeometry();
        geometry.setAttribute('position', new THREE.BufferAttribute(this.skinAt, 3));
        geometry.setIndex(new THREE.BufferAttribute(surface.corners, 1));
        this.skin = new THREE.Mesh(geometry, matte({ colour: SKIN, opacity: 0.3 }));
        this.skin.renderOrder = 2;
        this.skin.frustumCulled = false;
        this.all.add(this.skin);
    }

    /** Room for the whole step: the foot with its heel up. */
    frame() {
        const toes = this.foot.rays[0].head_mm[0] * 1.32;
        const far = this.room.side === 'right' ? [-50, 42] : [-42, 50];
        this.room.frame(new THREE.Box3(new THREE.Vector3(-12, far[0], -6), new THREE.Vector3(toes, far[1], 150)));
    }

    /** @param {Pose} pose @param {number} tension of the whole fascia, body weights @param {number} top of the scale */
    show(pose, tension, top) {
        const { foot } = this;
        this.light.color.setRGB(0, 0, 0); // all its light is its own: the colour is the printed scale's
        this.light.emissive.setRGB(...tensionColour(tension / top), THREE.SRGBColorSpace);
        this.light.emissiveIntensity = 1;
        if (this.skin && this.rest && this.weights && this.skinAt) {
            poseSkin(foot, pose, this.rest, this.weights, this.skinAt);
            this.skin.geometry.attributes.position.needsUpdate = true;
            this.skin.geometry.computeVertexNormals();
        }
        this.slips.forEach((slip, ray) => slip.follow(slipLine(foot, pose, ray)));
        this.bones.forEach((bone, ray) =>
            bone.follow([rayPoint(foot, pose, ray, foot.rays[ray].hinge_mm), rayPoint(foot, pose, ray, foot.rays[ray].head_mm)]));
        this.toes.forEach((toe, ray) => {
            const [x, y, z] = foot.rays[ray].head_mm;
            toe.follow([rayPoint(foot, pose, ray, [x, y, z]), toePoint(foot, pose, ray, [x + 26, y, z - 6])]);
        });
        const hinge = foot.rays[1].hinge_mm;
        this.heel.follow([hindfootPoint(foot, pose, [foot.heel_x_mm, hinge[1] / 2, 24]), hindfootPoint(foot, pose, hinge)]);
        this.aids?.show(pose);
        this.room.draw();
    }

    /** Angles as drawn, from the tubes' own corners: what the tests compare with what was solved. */
    drawnAngles() {
        const middle = (/** @type {Tube} */ tube, /** @type {number} */ end) => {
            const sum = [0, 0, 0];
            for (let k = 0; k < ROUND; k++) for (let c = 0; c < 3; c++) sum[c] += tube.at[3 * (end * ROUND + k) + c] / ROUND;
            return sum;
        };
        return {
            heel: pitchOf(middle(this.heel, 0), middle(this.heel, 1)),
            rays: this.bones.map((bone) => pitchOf(middle(bone, 0), middle(bone, 1))),
        };
    }
}

/**
 * @param {{side: 'left'|'right', foot: WalkFoot, surface: import('../lib/mesh.js').Surface|null, pose: Pose|null, top: number, title: string, drawn?: import('../lib/types.d.ts').Drawn}} props
 */
export function WalkView({ side, foot, surface, pose, top, title, drawn }) {
    const scene = useRef(/** @type {WalkScene|null} */ (null));
    const room = useRef(/** @type {Scene|null} */ (null));
    const [isReady, ready] = useState(false);
    const [angles, setAngles] = useState('');
    useEffect(() => {
        if (!isReady || !room.current) return undefined;
        const made = new WalkScene(room.current, foot, surface, drawn);
        scene.current = made;
        return () => {
            scene.current = null;
            room.current?.remove(made.all);
        };
    }, [isReady, foot, surface, drawn]);
    useEffect(() => {
        if (!scene.current || !pose) return;
        scene.current.show(pose, pose.slips_bw.reduce((sum, one) => sum + one, 0), top);
        setAngles(JSON.stringify(scene.current.drawnAngles()));
    }, [isReady, foot, surface, drawn, pose, top]);
    return html`<div class="walk" data-angles=${angles} data-percent=${pose?.percent}>
        <${Room} label=${`${title}: the ${side} foot walking, fascia lit by tension`} side=${side} place="inner side"
            places=${['inner side', 'aslant', 'sole']}
            onReady=${(/** @type {Scene} */ made) => {
                room.current = made;
                ready(true);
                return () => {
                    room.current = null;
                    ready(false);
                };
            }}><span class="room-side">${title}</span></${Room}></div>`;
}
