// SPDX-License-Identifier: GPL-3.0-or-later
import { useEffect, useState } from '../lib/ui.js';
import { computation } from '../lib/state.js';

/** A surface of a result, null until it is there. @param {import('../lib/compute.js').Result|null} of @param {string} name */
export function useMesh(of, name) {
    const [surface, setSurface] = useState(/** @type {import('../lib/mesh.js').Surface|null} */ (null));
    const hash = of?.files[name];
    useEffect(() => {
        let isOld = false;
        if (!of || !hash) setSurface(null);
        else computation.mesh(of, name).then((/** @type {any} */ mesh) => !isOld && setSurface(mesh), () => !isOld && setSurface(null));
        return () => {
            isOld = true;
        };
    }, [hash]);
    return surface;
}
