// SPDX-License-Identifier: GPL-3.0-or-later
// The ghost in numbers: how far the device's top stands over or under the design before. The server says it.
import { html, useEffect, useState } from '../lib/ui.js';
import { computation } from '../lib/state.js';
import { number, signed } from '../lib/format.js';
import { Table } from './chart.js';

const REST_MS = 500; // a slider that still moves is not compared

/** A place in the words of the sole. @param {'left'|'right'} side @param {number[]} where mm, in the side's own shape */
export function placeWords(side, where) {
    const medial = side === 'left' ? -where[1] : where[1];
    return `${number(where[0], 0)} mm from the heel, ${number(Math.abs(medial), 0)} mm ${medial < 0 ? 'lateral' : 'medial'} of the middle line`;
}

/** @param {{side: 'left'|'right', shown: any, earlier: any, record: import('../lib/record.js').EditedRecord}} props */
export function Against({ side, shown, earlier, record }) {
    const [found, setFound] = useState(/** @type {any} */ (null));
    const name = `${side}_orthosis.mesh`;
    const now = shown?.files[name], was = earlier?.files[name];
    useEffect(() => {
        let isOld = false;
        setFound(null);
        if (!now || !was || now === was) return undefined;
        const timer = setTimeout(() => {
            computation.ask(shown.version, shown.asked ?? record.draft.peek(), ['orthosis', `${side}-alone`], earlier.version).then(
                (/** @type {any} */ result) => !isOld && setFound(result?.visit?.feet?.[side]?.orthosis?.against_previous ?? null),
                (/** @type {any} */ fault) => !isOld && setFound({ why: fault.message }));
        }, REST_MS);
        return () => {
            isOld = true;
            clearTimeout(timer);
        };
    }, [now, was]);
    if (!found) return null;
    if (found.why) return html`<p class="note">Against the design before: ${found.why}</p>`;
    const isOver = found.most_higher_mm >= found.most_lower_mm;
    const rows = [['whole', found.mean_mm, isOver ? found.most_higher_mm : -found.most_lower_mm],
        ...found.thirds.map((/** @type {any} */ one) => [one.third, one.mean_mm, one.most_mm])];
    return html`<div class="against">
        <${Table} caption="Against the design before: how far the top stands over (+) or under it (−)" head=${['Third', 'Mean, mm', 'Greatest, mm']}
            rows=${rows.map(([third, mean, most]) => [third, signed(mean, 2), signed(most, 2)])} />
        <p class="note">Greatest ${placeWords(side, found.where_mm)}. Compared: ${number(100 * found.compared_share, 0)} % of the top.</p></div>`;
}
