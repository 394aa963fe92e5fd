// SPDX-License-Identifier: GPL-3.0-or-later
// The orthosis under its foot; the design before as a ghost; cut open on a plane.
import * as THREE from '../vendor/three.js';
import { html, useRef, useState, useEffect } from '../lib/ui.js';
import { Room, geometryOf, matte, SKIN, SHELL } from './scene.js';

/** @typedef {import('../lib/mesh.js').Surface} Surface */
/** @typedef {import('./scene.js').Scene} Scene */

class DeviceScene {
    /** @param {Scene} room */
    constructor(room) {
        this.room = room;
        room.renderer.localClippingEnabled = true;
        this.plane = new THREE.Plane(new THREE.Vector3(1, 0, 0), 1e6);
        /** @type {Record<string, THREE.Mesh>} */
        this.parts = {};
    }

    /** @param {string} name @param {Surface|null} surface @param {THREE.MeshStandardMaterial} material */
    put(name, surface, material) {
        if (this.parts[name]) this.room.remove(this.parts[name]);
        delete this.parts[name];
        if (surface) {
            material.clippingPlanes = [this.plane];
            const mesh = new THREE.Mesh(geometryOf(surface), material);
            mesh.renderOrder = material.transparent ? 2 : 0;
            this.parts[name] = mesh;
            this.room.scene.add(mesh);
        }
        const box = new THREE.Box3();
        for (const part of Object.values(this.parts)) box.union(/** @type {THREE.Box3} */ (part.geometry.boundingBox));
        if (!box.isEmpty()) {
            box.max.z = Math.min(box.max.z, 75); // the shin is no news here
            this.room.frame(box);
        }
        this.room.draw();
    }

    /** Everything in front of x, mm, is cut away; null shows all. @param {number|null} x */
    cut(x) {
        this.plane.normal.set(-1, 0, 0);
        this.plane.constant = x ?? 1e6;
        this.room.draw();
    }
}

/**
 * @param {{side: 'left'|'right', foot: Surface|null, device: Surface|null, ghost: Surface|null, showFoot: boolean, cut: number|null}} props
 */
export function DeviceView({ side, foot, device, ghost, showFoot, cut }) {
    const scene = useRef(/** @type {DeviceScene|null} */ (null));
    const [isReady, ready] = useState(false);
    const put = (/** @type {string} */ name, /** @type {Surface|null} */ surface, /** @type {any} */ how, /** @type {any[]} */ on) =>
        useEffect(() => {
            if (isReady) scene.current?.put(name, surface, matte(how));
        }, [isReady, ...on]);
    put('device', device, { colour: SHELL, isBothSides: true }, [device]);
    put('ghost', ghost, { colour: 0xb08b3e, opacity: 0.35, isBothSides: true }, [ghost]);
    put('foot', showFoot ? foot : null, { colour: SKIN, opacity: 0.4, isBothSides: true }, [foot, showFoot]);
    useEffect(() => {
        if (isReady) scene.current?.cut(cut);
    }, [isReady, cut]);
    return html`<${Room} label=${`Orthosis of the ${side} foot in 3-D`} side=${side} size="is-tall"
        onReady=${(/** @type {Scene} */ room) => {
            scene.current = new DeviceScene(room);
            ready(true);
            return () => {
                scene.current = null;
                ready(false);
            };
        }}><span class="room-side">${side === 'left' ? 'Left orthosis' : 'Right orthosis'}</span></${Room}>`;
}
