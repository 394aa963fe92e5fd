// SPDX-License-Identifier: GPL-3.0-or-later
// Who is to be called, and why; the most urgent first.
import { html, useEffect, useState } from '../lib/ui.js';
import { api } from '../lib/api.js';
import { address } from '../lib/router.js';
import { dateText, plural, sentenceCase } from '../lib/format.js';
import { Table } from './chart.js';

const HEAD = ['Person', 'Code', 'Foot', 'Last seen', 'Why'];
const SHORT_ROWS = 6;

/** @param {any} one */
function cells(one) {
    return [html`<a href=${address('follow-up', one.person)}>${one.name || 'no name'}</a>`,
        html`<span class="code">${one.code}</span>`, one.foot ?? 'the person',
        `${dateText(one.last_seen)}, ${plural(one.days, 'day')} ago`, sentenceCase(one.why)];
}

/** All of them, or the first `most`. @param {{rows: any[], most?: number}} props */
export function Recalls({ rows, most = rows.length }) {
    const more = rows.length - most;
    return html`<section class="card" aria-label="To be called"><h2>To be called</h2>
        ${rows.length === 0 ? html`<p class="empty">Nobody.</p>`
            : html`<${Table} caption="The most urgent first" head=${HEAD} rows=${rows.slice(0, most).map(cells)} />`}
        ${more > 0 && html`<p class="note"><a href=${address('caseload')}>${more} more in the caseload</a></p>`}</section>`;
}

/** The first of them for the day's page; read when the page opens, since it takes the whole clinic's books. */
export function RecallsToday() {
    const [rows, setRows] = useState(/** @type {any[]|null} */ (null));
    const [fault, setFault] = useState('');
    useEffect(() => {
        let isOld = false;
        api.caseload().then((books) => !isOld && setRows(books.recalls), (trouble) => !isOld && setFault(trouble.message));
        return () => {
            isOld = true;
        };
    }, []);
    if (fault) return html`<p class="trouble">Who is to be called is not known: ${fault}</p>`;
    if (!rows || rows.length === 0) return null;
    return html`<${Recalls} rows=${rows} most=${SHORT_ROWS} />`;
}
