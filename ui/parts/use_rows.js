// SPDX-License-Identifier: GPL-3.0-or-later
import { useEffect, useState } from '../lib/ui.js';
import { changeNumber } from '../lib/state.js';

/** Rows read from the server, read again after every change; null until they came. @template T @param {() => Promise<T>} read @param {any[]} on */
export function useRows(read, on) {
    const [rows, setRows] = useState(/** @type {T|null} */ (null));
    const [fault, setFault] = useState('');
    useEffect(() => {
        let isOld = false;
        read().then((found) => !isOld && (setRows(found), setFault('')), (trouble) => !isOld && setFault(trouble.message));
        return () => {
            isOld = true;
        };
    }, [...on, changeNumber.value]);
    return { rows, fault, setRows };
}
