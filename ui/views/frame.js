// SPDX-License-Identifier: GPL-3.0-or-later
// What stands round every area: the way through a visit, whose record is open, red flags, what is saved.
import { html, classes, useEffect, useRef, useState } from '../lib/ui.js';
import { session, person, visit, visits, openVisit, addVisit, forget, mayWrite, role, leaving, saveAll } from '../lib/state.js';
import { api } from '../lib/api.js';
import { route, address, PERSON_AREAS, CLINIC_AREAS } from '../lib/router.js';
import { sentenceCase, dateText, plural } from '../lib/format.js';
import { today } from '../lib/dates.js';
import { SaveState } from '../parts/save.js';
import { RedFlags } from '../parts/flags.js';

async function signOut() {
    await api.signOut().catch(() => {});
    forget();
    location.replace('#/today');
    location.reload(); // nothing of anybody stays in memory or behind the back button
}

/** @param {{area: string, who: string|null}} props */
function Way({ area, who }) {
    const here = route.value;
    const isHere = here.area === area && here.person === who;
    return html`<li><a href=${address(area, who)} aria-current=${isHere ? 'page' : undefined}>${sentenceCase(area)}</a></li>`;
}

function SignOut() {
    const [isAsked, ask] = useState(false);
    const leave = async () => ((await saveAll()) || isAsked ? signOut() : ask(true));
    return html`<button type="button" class=${isAsked ? 'alarm' : 'quiet'} onClick=${leave}>
        ${isAsked ? 'Sign out and lose what is not saved' : 'Sign out'}</button>`;
}

/** Records left behind that the server has not taken yet. */
function Leaving() {
    const count = leaving.value.length;
    return count > 0
        && html`<p class="trouble" role="status">
            ${plural(count, 'record')} you left ${count === 1 ? 'is' : 'are'} not saved yet; sent again by itself.</p>`;
}

function Rail() {
    const now = session.value;
    const who = person.value;
    const body = who?.draft.value;
    return html`
        <nav class="rail" aria-label="Areas">
            <a class="brand" href="#/today"><img src="mark.svg" alt="" width="30" height="30" />heelwright</a>
            <p class="clinic">${now?.clinic?.name}${now?.clinic?.invented && html` <span class="tag">invented</span>`}</p>
            <ul>${CLINIC_AREAS.slice(0, 1).map((area) => html`<${Way} area=${area} who=${null} />`)}</ul>
            ${who && body && html`<p class="rail-who"><strong>${body.name}</strong><span>${body.code}</span></p>
                <ul class="visit-ways">${PERSON_AREAS.map((area) => html`<${Way} area=${area} who=${who.id} />`)}</ul>`}
            <ul>
                ${CLINIC_AREAS.slice(1).filter((area) => role.value !== 'maker' || area !== 'caseload')
                    .map((area) => html`<${Way} area=${area} who=${null} />`)}
            </ul>
            <p class="rail-user"><span>${now?.user?.name}<small>${now?.user?.role}</small></span>
                <${SignOut} /></p>
        </nav>`;
}

function VisitBar() {
    const who = person.value;
    const record = visit.value;
    if (!who) return null;
    const body = who.draft.value;
    const isPersonArea = route.value.area === 'person';
    const pick = (/** @type {any} */ event) => {
        const row = visits.peek().find((one) => one.id === event.currentTarget.value);
        if (row) openVisit(row);
    };
    return html`
        <header class="visit-bar">
            <p class="who"><strong>${body.name ?? 'No name'}</strong> <span class="code">${body.code}</span>
                ${body.born && html`<span>born ${dateText(body.born)}</span>`}
                ${(body.invented || session.value?.clinic?.invented) && html`<span class="tag">invented</span>`}</p>
            ${record && html`<span class="print-only">Visit of ${dateText(record.draft.value.visit_date)}</span>`}
            ${visits.value.length > 0 && html`<label class="visit-pick">Visit <select value=${record?.id} onChange=${pick}>
                ${visits.value.map((row) =>
                    html`<option value=${row.id} selected=${row.id === record?.id}>${dateText(row.body.visit_date)}</option>`)}
            </select>
            </label>`}
            ${mayWrite('visit')
                && html`<button type="button" class="quiet" onClick=${() => addVisit()}>
                    New visit${visits.value.length ? '' : ` ${dateText(today())}`}</button>`}
            ${record && !isPersonArea && html`<${SaveState} record=${record} what="this visit" key=${record.id} />`}
            ${isPersonArea && html`<${SaveState} record=${who} what="this person" key=${who.id} />`}
        </header>`;
}

/** @param {{children?: any}} props */
export function Frame({ children }) {
    const here = route.value;
    const main = useRef(/** @type {HTMLElement|null} */ (null));
    const isFirst = useRef(true);
    useEffect(() => {
        document.title = `${sentenceCase(here.area)} · heelwright`;
        if (!isFirst.current) {
            main.current?.focus({ preventScroll: true });
            scrollTo(0, 0);
        }
        isFirst.current = false;
    }, [here.area, here.person]);
    return html`
        <a class="skip" href="#main" onClick=${(/** @type {Event} */ e) => { e.preventDefault(); main.current?.focus(); }}>To the area</a>
        <${Rail} />
        <div class=${classes('desk', here.person && 'has-person')}>
            ${here.person && html`<div class="pinned"><${VisitBar} />${role.value !== 'maker' && html`<${RedFlags} person=${here.person} />`}</div>`}
            <main id="main" tabindex="-1" ref=${main}><${Leaving} /><h1>${sentenceCase(here.area)}</h1>${children}</main>
        </div>`;
}
