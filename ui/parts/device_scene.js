// SPDX-License-Identifier: GPL-3.0-or-later
// The orthosis under its foot; the design before as a ghost; cut open on a plane; how it is pressed, in colours.
import * as THREE from '../vendor/three.js';
import { html, useRef, useState, useEffect } from '../lib/ui.js';
import { gridSurface, MAPS } from '../lib/press.js';
import { pressColour } from '../lib/colours.js';
import { paint } from '../lib/compare.js';
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

    /** @param {string} name @param {Surface|null} surface @param {THREE.Material} material @param {Float32Array} [colours] */
    put(name, surface, material, colours) {
        if (this.parts[name]) this.room.remove(this.parts[name]);
        delete this.parts[name];
        if (surface) {
            material.clippingPlanes = [this.plane];
            const geometry = geometryOf(surface);
            if (colours) geometry.setAttribute('color', new THREE.BufferAttribute(colours, 3));
            const mesh = new THREE.Mesh(geometry, material);
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

/** Colours are those of the printed scale: no light falls on them. They lie on the device's own top. */
function painting() {
    return new THREE.MeshBasicMaterial({ vertexColors: true, side: THREE.DoubleSide, polygonOffset: true, polygonOffsetFactor: -4,
        polygonOffsetUnits: -64 });
}

/**
 * @param {{side: 'left'|'right', foot: Surface|null, device: Surface|null, ghost: Surface|null, showFoot: boolean, cut: number|null,
 *   map: import('../lib/press.js').PressMap|null, painted: import('../lib/press.js').MapKey|'', top: number}} props top: of the printed scale
 */
export function DeviceView({ side, foot, device, ghost, showFoot, cut, map, painted, top }) {
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
        if (!isReady) return;
        const values = painted && map ? map[painted] : null;
        scene.current?.put('map', values && map ? gridSurface(map) : null, painting(),
            values ? paint(values, (value) => pressColour(value / top)) : undefined);
    }, [isReady, map, painted, top]);
    useEffect(() => {
        if (isReady && painted) scene.current?.room.look('top');
    }, [isReady, painted]);
    useEffect(() => {
        if (isReady) scene.current?.cut(cut);
    }, [isReady, cut]);
    const shown = MAPS.find((one) => one.key === painted);
    return html`<${Room} label=${`Orthosis of the ${side} foot in 3-D${shown ? `, coloured by ${shown.name.toLowerCase()}` : ''}`}
        side=${side} size="is-tall"
        onReady=${(/** @type {Scene} */ room) => {
            scene.current = new DeviceScene(room);
            ready(true);
            return () => {
                scene.current = null;
                ready(false);
            };
        }}><span class="room-side">${side === 'left' ? 'Left orthosis' : 'Right orthosis'}</span></${Room}>`;
}
