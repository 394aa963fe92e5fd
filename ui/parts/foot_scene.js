// SPDX-License-Identifier: GPL-3.0-or-later
// The scanned foot with its landmarks: chosen, dragged over the skin or nudged by keys.
import * as THREE from '../vendor/three.js';
import { computeBoundsTree, acceleratedRaycast } from '../vendor/bvh.js';
import { html, useRef, useState, useEffect } from '../lib/ui.js';
import { Room, geometryOf, matte, SKIN } from './scene.js';

/** @typedef {import('../lib/types.d.ts').Point} Point */
/** @typedef {import('./scene.js').Scene} Scene */

const NUDGE = 0.5; // mm a key
const nothing = () => {};

/** Landmarks come as a left foot's; a right foot's y is turned over once, here. @param {Point} at @param {string} side @returns {Point} */
export function sidePoint([x, y, z], side) {
    return [x, side === 'right' ? -y : y, z];
}

class FootScene {
    /** @param {Scene} room @param {{choose: (name: string) => void, drag: (name: string, at: Point) => void, drop: (name: string, at: Point) => void, canMove: () => boolean}} calls */
    constructor(room, calls) {
        this.room = room;
        this.calls = calls;
        /** @type {THREE.Mesh|null} */
        this.skin = null;
        this.marks = new THREE.Group();
        room.scene.add(this.marks);
        /** @type {any} */ (room.host).footScene = this;
        this.ray = new THREE.Raycaster();
        /** @type {any} */
        this.dragged = null;
        this.to = /** @type {Point|null} */ (null); // where it was dragged to
        const canvas = room.renderer.domElement;
        canvas.addEventListener('pointerdown', (event) => this.down(event));
        canvas.addEventListener('pointermove', (event) => this.move(event));
        for (const end of ['pointerup', 'pointercancel']) canvas.addEventListener(end, () => this.up());
    }

    /** @param {import('../lib/mesh.js').Surface} surface @param {Float32Array|null} colours */
    show(surface, colours) {
        if (this.skin) this.room.remove(this.skin);
        const geometry = geometryOf(surface);
        const material = matte({ colour: colours ? 0xffffff : SKIN, isBothSides: true });
        if (colours) {
            geometry.setAttribute('color', new THREE.BufferAttribute(colours, 3));
            material.vertexColors = true;
        }
        this.skin = new THREE.Mesh(geometry, material);
        computeBoundsTree.call(geometry);
        this.skin.raycast = acceleratedRaycast;
        this.room.scene.add(this.skin);
        this.room.frame(/** @type {THREE.Box3} */ (geometry.boundingBox));
    }

    /** @param {Record<string, Point>} landmarks on this side @param {string} chosen */
    mark(landmarks, chosen) {
        for (const old of [...this.marks.children]) {
            this.marks.remove(old);
            /** @type {any} */ (old).geometry.dispose();
            /** @type {any} */ (old).material.dispose();
        }
        for (const [name, at] of Object.entries(landmarks)) {
            const isChosen = name === chosen;
            const ball = new THREE.Mesh(new THREE.SphereGeometry(isChosen ? 4.2 : 3, 20, 14),
                new THREE.MeshBasicMaterial({ color: isChosen ? 0xc2410c : 0x10505c }));
            ball.position.set(...at);
            ball.name = name;
            this.marks.add(ball);
        }
        this.room.draw();
    }

    /** Where a landmark is seen, in pixels of the window; for tests. @param {string} name */
    screenOf(name) {
        const ball = this.marks.children.find((one) => one.name === name);
        if (!ball) return null;
        const box = this.room.renderer.domElement.getBoundingClientRect();
        const at = ball.position.clone().project(this.room.camera);
        return { x: box.left + (box.width * (at.x + 1)) / 2, y: box.top + (box.height * (1 - at.y)) / 2 };
    }

    /** @param {PointerEvent} event */
    aim(event) {
        const box = this.room.renderer.domElement.getBoundingClientRect();
        const at = new THREE.Vector2(((event.clientX - box.left) / box.width) * 2 - 1, 1 - ((event.clientY - box.top) / box.height) * 2);
        this.ray.setFromCamera(at, this.room.camera);
    }

    /** @param {PointerEvent} event */
    down(event) {
        this.aim(event);
        const hit = this.ray.intersectObjects(this.marks.children)[0];
        if (!hit) return;
        this.calls.choose(hit.object.name);
        if (!this.calls.canMove()) return;
        this.dragged = hit.object;
        this.to = null;
        this.room.controls.enabled = false;
        this.room.renderer.domElement.setPointerCapture(event.pointerId);
    }

    /** @param {PointerEvent} event */
    move(event) {
        if (!this.dragged || !this.skin) return;
        this.aim(event);
        const hit = this.ray.intersectObject(this.skin)[0];
        if (!hit) return;
        this.to = /** @type {Point} */ (hit.point.toArray());
        this.calls.drag(this.dragged.name, this.to);
    }

    up() {
        if (this.dragged && this.to) this.calls.drop(this.dragged.name, this.to);
        this.dragged = null;
        this.room.controls.enabled = true;
    }
}

/**
 * @param {{side: 'left'|'right', surface: import('../lib/mesh.js').Surface|null, colours?: Float32Array|null, landmarks: Record<string, Point>,
 *   place?: string, name?: string, chosen?: string, canMove?: boolean, onChoose?: (name: string) => void, onDrag?: (name: string, at: Point) => void,
 *   onMove?: (name: string, at: Point) => void}} props landmarks in the side's own frame; onDrag while the pointer is down, onMove at its end and for keys
 */
export function FootView({ side, surface, colours = null, landmarks, place = 'aslant', name = 'foot', chosen = '',
    canMove = false, onChoose = nothing, onDrag = nothing, onMove = nothing }) {
    const scene = useRef(/** @type {FootScene|null} */ (null));
    const calls = useRef({ onChoose, onDrag, onMove, canMove });
    calls.current = { onChoose, onDrag, onMove, canMove };
    const [isReady, ready] = useState(false);
    useEffect(() => {
        if (isReady && surface) scene.current?.show(surface, colours);
    }, [isReady, surface, colours]);
    useEffect(() => {
        if (isReady) scene.current?.mark(landmarks, chosen);
    }, [isReady, landmarks, chosen]);
    const onKey = (/** @type {KeyboardEvent} */ event) => {
        if (!chosen || !event.altKey || !canMove || !landmarks[chosen]) return false;
        const step = { ArrowRight: [1, 0, 0], ArrowLeft: [-1, 0, 0], ArrowUp: [0, 0, 1], ArrowDown: [0, 0, -1], PageUp: [0, 1, 0],
            PageDown: [0, -1, 0] }[event.key];
        if (!step) return false;
        onMove(chosen, /** @type {Point} */ (landmarks[chosen].map((value, i) => value + NUDGE * step[i])));
        return true;
    };
    return html`<${Room} label=${`The ${side} ${name} in 3-D, ${Object.keys(landmarks).length} landmarks`} side=${side} place=${place} onKey=${onKey}
        hint="Arrow keys turn it, plus and minus bring it near or far. With Alt the arrow keys and page keys move the chosen landmark."
        onReady=${(/** @type {Scene} */ room) => {
            scene.current = new FootScene(room, {
                choose: (name) => calls.current.onChoose(name), drag: (name, at) => calls.current.onDrag(name, at),
                drop: (name, at) => calls.current.onMove(name, at), canMove: () => calls.current.canMove,
            });
            ready(true);
            return () => {
                scene.current = null;
                ready(false);
            };
        }}><span class="room-side">${side === 'left' ? 'Left' : 'Right'} ${name}</span></${Room}>`;
}
