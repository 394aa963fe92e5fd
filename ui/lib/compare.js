// SPDX-License-Identifier: GPL-3.0-or-later
// Where two feet differ: distance of one skin from the other, both in the foot frame.
import * as THREE from '../vendor/three.js';
import { MeshBVH } from '../vendor/bvh.js';
import { deviationColour } from './colours.js';

/** @typedef {import('./mesh.js').Surface} Surface */

/**
 * Signed distance, mm, of each point of `one` from `other` turned over: + outside it.
 * @param {Surface} one @param {Surface} other the other side's foot
 */
export function deviation(one, other) {
    const points = new Float32Array(other.points);
    for (let i = 1; i < points.length; i += 3) points[i] = -points[i];
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
        face.setFromAttributeAndIndices(geometry.attributes.position, .../** @type {[number, number, number]} */ ([0, 1, 2].map((k) => geometry.index?.getX(3 * hit.faceIndex + k) ?? 0)));
        face.getNormal(normal).negate(); // turned over, so its winding is too
        out[i] = Math.sign(normal.dot(at.sub(hit.point))) * hit.distance;
    }
    geometry.dispose();
    return out;
}

/** @param {Float32Array} distances mm @param {number} top of the scale, mm */
export function deviationColours(distances, top) {
    const out = new Float32Array(3 * distances.length);
    const colour = new THREE.Color();
    distances.forEach((d, i) => {
        colour.setRGB(...deviationColour(0.5 + d / (2 * top)), THREE.SRGBColorSpace);
        out.set([colour.r, colour.g, colour.b], 3 * i);
    });
    return out;
}
