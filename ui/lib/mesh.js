// SPDX-License-Identifier: GPL-3.0-or-later
// The server's surfaces: "HWM1", uint32 points, uint32 triangles, float32 xyz in mm, uint32 corners; little-endian.
// "HWM2" ends in the points' red, green and blue as the scanner saw them, a byte each.

/** @typedef {{points: Float32Array, corners: Uint32Array, colours?: Uint8Array|null}} Surface */

/** @param {ArrayBuffer} bytes @returns {Surface} */
export function readMesh(bytes) {
    const view = new DataView(bytes);
    const kind = bytes.byteLength < 12 ? 0 : view.getUint32(0, true);
    const hasColours = kind === 0x324d5748;
    if (kind !== 0x314d5748 && !hasColours) throw new Error('This is not a surface of heelwright.');
    const points = view.getUint32(4, true);
    const triangles = view.getUint32(8, true);
    const end = 12 + 12 * points + 12 * triangles;
    if (bytes.byteLength !== end + (hasColours ? 3 * points : 0)) throw new Error('The surface file is cut off.');
    return {
        points: new Float32Array(bytes.slice(12, 12 + 12 * points)),
        corners: new Uint32Array(bytes.slice(12 + 12 * points, end)),
        colours: hasColours ? new Uint8Array(bytes.slice(end)) : null,
    };
}
