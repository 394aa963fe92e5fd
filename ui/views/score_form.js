// SPDX-License-Identifier: GPL-3.0-or-later
// The waiting-room tablet: a one-time code opens these questions and nothing else.
import { html, useState } from '../lib/ui.js';
import { api } from '../lib/api.js';
import { AddForm } from '../parts/form.js';
import { SCORE_ROWS } from './follow_up.js';

export function ScoreForm() {
    const [isDone, done] = useState(false);
    const send = async (/** @type {any} */ typed) => {
        const { code, ...scores } = typed;
        await api.sendScores(code, scores);
        done(true);
    };
    return html`
        <main class="start"><div class="door">
            <p class="brand"><img src="mark.svg" alt="" width="44" height="44" />heelwright</p>
            <h1>How is your heel?</h1>
            ${isDone ? html`<p role="status" class="ok">Thank you. You can give the tablet back.</p>`
                : html`<${AddForm} button="Send" onSubmit=${send} rows=${[{ key: 'code', label: 'Code from the desk', kind: 'text', isNeeded: true },
                    { key: 'foot', label: 'Which heel', kind: 'choice', options: ['left', 'right'], isNeeded: true }, ...SCORE_ROWS]} />`}
        </div></main>`;
}
