// SPDX-License-Identifier: GPL-3.0-or-later
// The page: who is signed in, which area is open, keys that work everywhere.
import { html, render, useEffect, useState } from './lib/ui.js';
import { api } from './lib/api.js';
import { begin, session, away, person, visit, leaving, openPerson, closePerson } from './lib/state.js';
import { route } from './lib/router.js';
import { Frame } from './views/frame.js';
import { SignIn, FirstUse, OwnPassphrase } from './views/sign_in.js';
import { ScoreForm } from './views/score_form.js';
import { Today } from './views/today.js';
import { Person } from './views/person.js';
import { Findings } from './views/findings.js';
import { Foot } from './views/foot.js';
import { Load } from './views/load.js';
import { Orthosis } from './views/orthosis.js';
import { Plan } from './views/plan.js';
import { Treatment } from './views/treatment.js';
import { FollowUp } from './views/follow_up.js';
import { Caseload } from './views/caseload.js';
import { Trials } from './views/trials.js';
import { Settings } from './views/settings.js';

/** @type {Record<string, any>} */
const AREAS = {
    today: Today, person: Person, findings: Findings, foot: Foot, load: Load, orthosis: Orthosis, plan: Plan,
    treatment: Treatment, 'follow-up': FollowUp, caseload: Caseload, trials: Trials, settings: Settings,
};

function App() {
    const here = route.value;
    const now = session.value;
    const [trouble, setTrouble] = useState('');
    useEffect(() => {
        setTrouble('');
        if (!now?.user || now.user.must_set_passphrase) return;
        if (here.person) openPerson(here.person).catch((fault) => setTrouble(fault.message));
    }, [here.person, now?.user?.id, now?.user?.must_set_passphrase]);
    if (here.area === 'score') return html`<${ScoreForm} />`;
    if (!now) return html`<main class="start"><p role="status">${away.value || 'Opening …'}</p></main>`;
    if (now.first_use) return html`<${FirstUse} />`;
    if (!now.user) return html`<${SignIn} />`;
    if (now.user.must_set_passphrase) return html`<${OwnPassphrase} />`;
    const Area = AREAS[here.area];
    const isReady = !here.person || person.value?.id === here.person;
    return html`<${Frame}>${trouble ? html`<p class="trouble">${trouble}</p>`
        : isReady ? html`<${Area} key=${`${here.area} ${here.person}`} />` : html`<p role="status">Opening …</p>`}</${Frame}>`;
}

/** Undo and redo for whichever record was touched last; text fields keep their own. @param {KeyboardEvent} event */
function onKey(event) {
    const isText = event.target instanceof HTMLElement
        && event.target.matches('input:not([type=radio]):not([type=range]):not([type=checkbox]), textarea');
    if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== 'z' || isText) return;
    const record = route.peek().area === 'person' ? person.peek() : visit.peek();
    event.preventDefault();
    if (event.shiftKey) record?.redo();
    else record?.undo();
}

async function start() {
    try {
        await begin(await api.session());
        away.value = '';
    } catch {
        away.value = 'The server does not answer. This page asks again every two seconds.';
        globalThis.setTimeout(start, 2000);
    }
}

addEventListener('keydown', onKey);
addEventListener('beforeunload', (event) => {
    const isOpen = [person.peek(), visit.peek(),
        ...leaving.peek()].some((record) => record && record.state.peek() !== 'saved' && record.state.peek() !== 'refused');
    if (isOpen && session.peek()?.user) event.preventDefault();
});
// A page kept by the browser's back button shows nothing of before: it asks anew who is there.
addEventListener('pageshow', (event) => {
    if (!event.persisted) return;
    closePerson();
    session.value = null;
    start();
});

render(html`<${App} />`, /** @type {HTMLElement} */ (document.getElementById('page')));
start();
