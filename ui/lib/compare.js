// SPDX-License-Identifier: GPL-3.0-or-later
// Where two feet differ: distance of one skin from the other, both in the foot frame; colours of such numbers.
import * as THREE from '../vendor/three.js';
import { MeshBVH } from '../vendor/bvh.js';
import { deviationColour } from './colours.js';

/** @typedef {import('./mesh.js').Surface} Surface */

/**
 * Signed distance, mm, of each point of `one` from `other`: + outside it.
 * @param {Surface} one @param {Surface} other @param {boolean} isTurnedOver other is the other side's foot, and is turned over first
 */
export function deviation(one, other, isTurnedOver) {
    const points = new Float32Array(other.points);
    if (isTurnedOver) for (let i = 1; i < points.length; i += 3) points[i] = -points[i];
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute('position', new THREE.BufferAttribute(points, 3));
    geometry.setIndex(new THREE.BufferAttribute(new Uint32Array(other.corners), 1));
    const tree = new MeshBVH(geometry);
    const out = new Float32Array(one.points.length / 3);
    const at = new THREE.Vector3();
    const face = new THREE.Triangle();
    const normal = new THREE.Vector3();
    /** @type {any} */
    const hit = {};
    for (let i = 0; i < out.length; i++) {
        at.fromArray(one.points, 3 * i);
        tree.closestPointToPoint(at, hit);
        face.setFromAttributeAndIndices(geometry.attributes.position,
            .../** @type {[number, number, number]} */ ([0, 1, 2].map((k) => geometry.index?.getX(3 * hit.faceIndex + k) ?? 0)));
        face.getNormal(normal);
        if (isTurnedOver) normal.negate(); // so its winding is too
        out[i] = Math.sign(normal.dot(at.sub(hit.point))) * hit.distance;
    }
    geometry.dispose();
    return out;
}

/** A colour for each value, as three floats of the renderer's space. @param {ArrayLike<number>} values @param {(value: number) => import('./colours.js').Rgb} colourOf */
export function paint(values, colourOf) {
    const out = new Float32Array(3 * values.length);
    const colour = new THREE.Color();
    for (let i = 0; i < values.length; i++) {
        colour.setRGB(...colourOf(values[i]), THREE.SRGBColorSpace);
        out.set([colour.r, colour.g, colour.b], 3 * i);
    }
    return out;
}

/** Bytes of the scanner as floats of the renderer's space. @param {Uint8Array} bytes */
export function scannedColours(bytes) {
    return paint(Array.from({ length: bytes.length / 3 }, (_, i) => i), (i) => [bytes[3 * i] / 255, bytes[3 * i + 1] / 255, bytes[3 * i + 2] / 255]);
}

/** @param {Float32Array} distances mm @param {number} top of the scale, mm */
export function deviationColours(distances, top) {
    return paint(distances, (d) => deviationColour(0.5 + d / (2 * top)));
}
