// SPDX-License-Identifier: GPL-3.0-or-later
// Signing in; and the very first use, when the owner of the clinic is made.
import { html, useState, useId } from '../lib/ui.js';
import { api, Refusal } from '../lib/api.js';
import { begin, session } from '../lib/state.js';

/** @param {{label: string, value: string, onInput: (text: string) => void, type?: string, autocomplete?: string, hint?: string}} props */
function Line({ label, value, onInput, type = 'text', autocomplete = 'off', hint }) {
    const id = useId('line');
    return html`<div class="field"><label for=${id}>${label}</label>
        <input id=${id} type=${type} value=${value} autocomplete=${autocomplete} required
            onInput=${(/** @type {any} */ e) => onInput(e.currentTarget.value)} />
        ${hint && html`<small>${hint}</small>`}</div>`;
}

/** @param {{title: string, children?: any, onSubmit: () => Promise<void>, button: string}} props */
function Door({ title, children, onSubmit, button }) {
    const [fault, setFault] = useState('');
    const [isBusy, busy] = useState(false);
    const submit = async (/** @type {Event} */ event) => {
        event.preventDefault();
        busy(true);
        setFault('');
        try {
            await onSubmit();
        } catch (trouble) {
            if (!(trouble instanceof Refusal)) throw trouble;
            setFault(trouble.message);
        }
        busy(false);
    };
    return html`
        <main class="start">
            <form class="door" onSubmit=${submit}>
                <p class="brand"><img src="mark.svg" alt="" width="44" height="44" />heelwright</p>
                <h1>${title}</h1>
                ${children}
                <p class="fault" role="alert">${fault}</p>
                <button type="submit" class="main" disabled=${isBusy}>${button}</button>
                <p class="caution">It advises a licensed clinician, who decides. It does not diagnose and does not prescribe.</p>
            </form>
        </main>`;
}

export function SignIn() {
    const [login, setLogin] = useState('');
    const [passphrase, setPassphrase] = useState('');
    return html`
        <${Door} title=${session.value?.clinic?.name || 'Sign in'} button="Sign in"
            onSubmit=${async () => begin(await api.signIn(login, passphrase))}>
            <${Line} label="Name to sign in with" value=${login} onInput=${setLogin} autocomplete="username" />
            <${Line} label="Passphrase" type="password" value=${passphrase} onInput=${setPassphrase} autocomplete="current-password" />
        </${Door}>`;
}

export function FirstUse() {
    const [typed, setTyped] = useState({ code: '', name: '', login: '', passphrase: '' });
    const line = (/** @type {keyof typeof typed} */ key) =>
        ({ value: typed[key], onInput: (/** @type {string} */ text) => setTyped({ ...typed, [key]: text }) });
    return html`
        <${Door} title="First use: the owner of this clinic" button="Begin" onSubmit=${async () => begin(await api.firstUse(typed))}>
            <p>Before you begin: intended for licensed clinicians who treat heel pain. Every dose and rule names its source; local rules and the
                product's own leaflet go first.</p>
            <${Line} label="Code that was printed at the start" ...${line('code')} />
            <${Line} label="Your name" ...${line('name')} autocomplete="name" />
            <${Line} label="Name to sign in with" ...${line('login')} autocomplete="username" />
            <${Line} label="Passphrase" type="password" ...${line('passphrase')} autocomplete="new-password"
                hint="Some words that belong together only for you; 12 letters at least." />
        </${Door}>`;
}

/** The passphrase that was given is known to who gave it: it opens nothing but this. */
export function OwnPassphrase() {
    const [typed, setTyped] = useState({ old: '', fresh: '' });
    const line = (/** @type {keyof typeof typed} */ key) =>
        ({ value: typed[key], onInput: (/** @type {string} */ text) => setTyped({ ...typed, [key]: text }) });
    const change = async () => {
        await api.newPassphrase(typed.old, typed.fresh);
        await begin(await api.session());
    };
    return html`
        <${Door} title="A passphrase of your own" button="Set it and begin" onSubmit=${change}>
            <p>The one you signed in with was given to you by somebody else, who knows it. Nothing opens before you set your own.</p>
            <${Line} label="The one you were given" type="password" ...${line('old')} autocomplete="current-password" />
            <${Line} label="Your own" type="password" ...${line('fresh')} autocomplete="new-password"
                hint="Some words that belong together only for you; 12 letters at least." />
        </${Door}>`;
}
