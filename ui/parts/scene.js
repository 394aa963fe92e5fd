// SPDX-License-Identifier: GPL-3.0-or-later
// A room in 3-D, millimetres, z up: draws only when something changed, turns by mouse, touch and keys.
import * as THREE from '../vendor/three.js';
import { OrbitControls } from '../vendor/orbit.js';
import { html, useEffect, useRef } from '../lib/ui.js';

/** Where the camera stands, for a left foot: [x, y, z] of its direction. @type {Record<string, [number, number, number]>} */
const PLACES = {
    'inner side': [0.05, -1, 0.12],
    'outer side': [0.05, 1, 0.12],
    sole: [0.001, 0, -1],
    top: [-0.001, 0, 1],
    back: [-1, 0, 0.15],
    aslant: [0.55, -0.8, 0.5],
};

export const VIEW_NAMES = Object.keys(PLACES);

export class Scene {
    /** @param {HTMLElement} host @param {'left'|'right'} side */
    constructor(host, side) {
        this.host = host;
        this.side = side;
        this.scene = new THREE.Scene();
        this.camera = new THREE.PerspectiveCamera(28, 1, 10, 5000);
        this.camera.up.set(0, 0, 1);
        this.renderer = new THREE.WebGLRenderer({ antialias: true, alpha: true });
        this.renderer.setPixelRatio(Math.min(2, devicePixelRatio));
        this.renderer.domElement.setAttribute('aria-hidden', 'true');
        host.prepend(this.renderer.domElement);
        this.controls = new OrbitControls(this.camera, this.renderer.domElement);
        this.controls.enableDamping = false;
        this.controls.addEventListener('change', () => this.draw());
        this.box = new THREE.Box3(new THREE.Vector3(0, -50, 0), new THREE.Vector3(260, 50, 90));
        this.light();
        this.watch = new ResizeObserver(() => this.resize());
        this.watch.observe(host);
        this.asked = 0;
        this.place = 'aslant';
        this.isTurned = false; // by hand: then a new surface does not move the camera
        this.controls.addEventListener('start', () => (this.isTurned = true));
        this.resize();
    }

    light() {
        this.scene.add(new THREE.HemisphereLight(0xffffff, 0x9a938a, 1.6));
        const key = new THREE.DirectionalLight(0xffffff, 1.7);
        const fill = new THREE.DirectionalLight(0xffffff, 0.5);
        key.position.set(-0.4, -1, 1.4);
        fill.position.set(0.6, 1, -0.8);
        this.camera.add(key, fill); // light comes with the eye: the sole is never black
        this.scene.add(this.camera);
    }

    resize() {
        const { clientWidth, clientHeight } = this.host;
        if (clientWidth === 0 || clientHeight === 0) return;
        this.renderer.setSize(clientWidth, clientHeight, false);
        this.camera.aspect = clientWidth / clientHeight;
        this.camera.updateProjectionMatrix();
        if (!this.isTurned) this.look(this.place);
        this.draw();
    }

    /** @param {string} place */
    look(place) {
        this.place = place;
        this.isTurned = false;
        const [x, y, z] = PLACES[place] ?? PLACES.aslant;
        const towards = new THREE.Vector3(x, this.side === 'left' ? y : -y, z).normalize();
        const middle = this.box.getCenter(new THREE.Vector3());
        const size = this.box.getSize(new THREE.Vector3());
        const tan = Math.tan((this.camera.fov * Math.PI) / 360);
        const isFromAbove = Math.abs(towards.z) > 0.9; // or from below: then the foot stands upright in the picture
        const wide = isFromAbove ? size.y : Math.abs(towards.y) * size.x + Math.abs(towards.x) * size.y;
        const high = isFromAbove ? size.x : size.z + Math.abs(towards.z) * size.y;
        const depth = Math.abs(towards.x) * size.x + Math.abs(towards.y) * size.y + Math.abs(towards.z) * size.z;
        const far = Math.max(high / (2 * tan), wide / (2 * tan * Math.max(0.2, this.camera.aspect))) * 1.06 + depth / 2;
        this.camera.position.copy(middle).addScaledVector(towards, far);
        this.controls.target.copy(middle);
        this.controls.update();
        this.draw();
    }

    /** @param {THREE.Box3} box */
    frame(box) {
        this.box.copy(box);
        if (!this.isTurned) this.look(this.place);
    }

    /** @param {number} around @param {number} up radians */
    turn(around, up) {
        const offset = this.camera.position.clone().sub(this.controls.target);
        const round = new THREE.Spherical().setFromVector3(new THREE.Vector3(offset.x, offset.z, -offset.y));
        round.theta += around;
        round.phi = Math.min(Math.PI - 0.02, Math.max(0.02, round.phi + up));
        const turned = new THREE.Vector3().setFromSpherical(round);
        this.camera.position.copy(this.controls.target).add(new THREE.Vector3(turned.x, -turned.z, turned.y));
        this.isTurned = true;
        this.controls.update();
        this.draw();
    }

    /** @param {number} factor */
    zoom(factor) {
        this.camera.position.sub(this.controls.target).multiplyScalar(factor).add(this.controls.target);
        this.isTurned = true;
        this.controls.update();
        this.draw();
    }

    /** @param {KeyboardEvent} event @returns {boolean} whether the key meant something here */
    key(event) {
        const step = 0.12;
        const act = {
            ArrowLeft: () => this.turn(-step, 0), ArrowRight: () => this.turn(step, 0),
            ArrowUp: () => this.turn(0, -step), ArrowDown: () => this.turn(0, step),
            '+': () => this.zoom(0.9), '-': () => this.zoom(1.1), 0: () => this.look('aslant'),
        }[event.key];
        act?.();
        return !!act;
    }

    draw() {
        if (this.asked) return;
        this.asked = requestAnimationFrame(() => {
            this.asked = 0;
            this.renderer.render(this.scene, this.camera);
        });
    }

    /** @param {THREE.Object3D} thing */
    remove(thing) {
        this.scene.remove(thing);
        thing.traverse((/** @type {any} */ part) => {
            part.geometry?.dispose();
            part.material?.dispose();
        });
    }

    dispose() {
        this.watch.disconnect();
        cancelAnimationFrame(this.asked);
        this.remove(this.scene);
        this.controls.dispose();
        this.renderer.dispose();
        this.renderer.forceContextLoss();
        this.renderer.domElement.remove();
    }
}

/** @param {import('../lib/mesh.js').Surface} surface */
export function geometryOf(surface) {
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute('position', new THREE.BufferAttribute(surface.points, 3));
    geometry.setIndex(new THREE.BufferAttribute(surface.corners, 1));
    geometry.computeVertexNormals();
    geometry.computeBoundingBox();
    return geometry;
}

/** Colours that hold on light and dark grounds. */
export const SKIN = 0xd9b79b;
export const SHELL = 0x3f7f8c;

/** @param {{colour: number, opacity?: number, isBothSides?: boolean}} how */
export function matte({ colour, opacity = 1, isBothSides = false }) {
    return new THREE.MeshStandardMaterial({
        color: colour, roughness: 0.85, metalness: 0, transparent: opacity < 1, opacity,
        depthWrite: opacity >= 1,
        polygonOffset: opacity < 1, polygonOffsetFactor: 3, polygonOffsetUnits: 12, // a ghost gives way to what it touches
        side: isBothSides ? THREE.DoubleSide : THREE.FrontSide,
    });
}

/**
 * The room on the page, with buttons for where to look from.
 * @param {{label: string, side: 'left'|'right', place?: string, places?: string[], onReady: (scene: Scene) => void|(() => void),
 *   onKey?: (event: KeyboardEvent) => boolean, children?: any, hint?: string, size?: string}} props
 */
export function Room({ label, side, place = 'aslant', places = VIEW_NAMES, onReady, onKey, children, hint, size = '' }) {
    const host = useRef(/** @type {HTMLDivElement|null} */ (null));
    const scene = useRef(/** @type {Scene|null} */ (null));
    useEffect(() => {
        if (!host.current) return undefined;
        let room;
        try {
            room = new Scene(host.current, side);
        } catch {
            host.current.dataset.trouble = 'This browser gives no 3-D; the numbers stand beside.';
            return undefined;
        }
        scene.current = room;
        room.look(place);
        const end = onReady(room);
        return () => {
            end?.();
            room.dispose();
            scene.current = null;
        };
    }, [side]);
    const key = (/** @type {KeyboardEvent} */ event) => {
        if (event.target !== host.current) return;
        if (onKey?.(event) || scene.current?.key(event)) event.preventDefault();
    };
    return html`
        <div class=${`room ${size}`}>
            <div class="room-view" ref=${host} tabindex="0" role="group" onKeyDown=${key}
                aria-label=${`${label}. ${hint ?? 'Arrow keys turn it, plus and minus bring it near or far.'}`}>${children}</div>
            ${places.length > 0 && html`<div class="room-places" role="group" aria-label=${`Look at it from: ${label}`}>
                ${places.map((one) => html`<button type="button" class="quiet" onClick=${() => scene.current?.look(one)}>${one}</button>`)}</div>`}
        </div>`;
}
