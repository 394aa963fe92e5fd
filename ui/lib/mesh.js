// SPDX-License-Identifier: GPL-3.0-or-later
// The server's surfaces: "HWM1", uint32 points, uint32 triangles, float32 xyz in mm, uint32 corners; little-endian.

/** @typedef {{points: Float32Array, corners: Uint32Array}} Surface */

/** @param {ArrayBuffer} bytes @returns {Surface} */
export function readMesh(bytes) {
    const view = new DataView(bytes);
    if (bytes.byteLength < 12 || view.getUint32(0, true) !== 0x314d5748) throw new Error('This is not a surface of heelwright.');
    const points = view.getUint32(4, true);
    const triangles = view.getUint32(8, true);
    if (bytes.byteLength !== 12 + 12 * points + 12 * triangles) throw new Error('The surface file is cut off.');
    return {
        points: new Float32Array(bytes.slice(12, 12 + 12 * points)),
        corners: new Uint32Array(bytes.slice(12 + 12 * points)),
    };
}
