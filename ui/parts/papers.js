// SPDX-License-Identifier: GPL-3.0-or-later
// Papers, each looked at, printed and handed over where it is of use.
import { html, useEffect, useRef, useState } from '../lib/ui.js';
import { visit, computation } from '../lib/state.js';
import { api, Refusal } from '../lib/api.js';
import { Dialog } from './dialog.js';

/** @type {Record<string, {name: string, what: string}>} */
export const PAPERS = {
    'plan.pdf': { name: 'Plan', what: 'verdict, feet, measures, load, options and dates' },
    'letter.pdf': { name: 'Letter to the family doctor', what: 'why, found, planned, asked: one page' },
    'patient.pdf': { name: 'Sheet for the patient', what: 'what to do this week, exercises as drawings, when to call' },
    'consent.pdf': { name: 'Record of consent', what: 'a page for each act it is needed for' },
    'plan.ics': { name: 'Calendar', what: 'the dates of the plan, for a calendar program' },
    'load.pdf': { name: 'Picture of the load', what: 'the foot at five instants, the curve, causes and levers' },
    'fit.pdf': { name: 'Picture of the fit', what: 'each device against its foot, gaps in colours and in figures' },
    'visit-bundle.json': { name: 'For another program', what: 'the visit as an HL7 FHIR R4 bundle' },
    'milling.pdf': { name: 'Milling sheet', what: 'for the machine: set-up, tools, cautions, and what the check found' },
    'order.pdf': { name: 'Order sheet', what: 'for the maker: both devices as ordered and as measured' },
};

/** @param {string} name */
function kindOf(name) {
    return name.endsWith('.ics') ? 'calendar file' : name.endsWith('.json') ? 'FHIR, JSON' : 'PDF';
}

/** Those of the names that the result has; nothing of the others. @param {{names: string[]}} props */
export function Papers({ names }) {
    const result = computation.result.value;
    const there = names.filter((name) => result?.files[name]);
    if (!result || there.length === 0) return null;
    const isOlder = result.version !== visit.value?.version.value;
    return html`
        ${isOlder && html`<p class="caution">These papers are of version ${result.version} of the visit; what changed since is being computed.</p>`}
        <ul class="papers">
            ${there.map((name) => html`<${Paper} key=${name} name=${name} title=${PAPERS[name].name} what=${`${PAPERS[name].what} (${kindOf(name)})`}
            address=${api.fileAddress(result.files[name], name)} />`)}</ul>`;
}

/** One paper: looked at here, or taken away. @param {{name: string, title: string, what: string, address: string}} props */
export function Paper({ name, title, what, address }) {
    const [isOpen, setOpen] = useState(false);
    return html`<li><a href=${address} target="_blank" rel="noopener" download=${name}>${title}</a>
        ${name.endsWith('.pdf')
            && html`<button type="button" class="quiet" aria-label=${`Look at it: ${title}`} onClick=${() => setOpen(true)}>Look at it</button>`}
        <span class="note">${what}</span>
        ${isOpen && html`<${Preview} title=${title} address=${address} onClose=${() => setOpen(false)} />`}</li>`;
}

/** The browser's own reader, with a way to its printer. @param {{title: string, address: string, onClose: () => void}} props */
function Preview({ title, address, onClose }) {
    const frame = useRef(/** @type {HTMLIFrameElement|null} */ (null));
    const [shown, show] = useState({ url: '', trouble: '' });
    useEffect(() => {
        let url = '', isGone = false;
        api.paperBytes(address).then((bytes) => {
            if (isGone) return;
            url = URL.createObjectURL(new Blob([bytes], { type: 'application/pdf' }));
            show({ url, trouble: '' });
        }, (trouble) => {
            if (!(trouble instanceof Refusal)) throw trouble;
            show({ url: '', trouble: trouble.message });
        });
        return () => {
            isGone = true;
            if (url) URL.revokeObjectURL(url); // nothing of the person stays in the browser
        };
    }, [address]);
    return html`<${Dialog} title=${title} onClose=${onClose} isWide=${true}>
        ${shown.trouble && html`<p class="trouble">${shown.trouble}</p>`}
        ${!shown.url && !shown.trouble && html`<p role="status">Reading …</p>`}
        ${shown.url
            && html`<p class="actions"><button type="button" class="main" onClick=${() => frame.current?.contentWindow?.print()}>Print</button></p>
            <iframe ref=${frame} class="paper-frame" title=${title} src=${shown.url}></iframe>`}
    <//>`;
}

const NEXT_MS = 400; // a browser asked for several files at once drops some without a word

/** Hands bytes over as a file of this name; resolves when the next one may follow. @param {ArrayBuffer} bytes @param {string} name */
export function handOver(bytes, name) {
    const url = URL.createObjectURL(new Blob([bytes]));
    const link = document.createElement('a');
    link.href = url;
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(url), 10000);
    return new Promise((done) => setTimeout(done, NEXT_MS));
}
