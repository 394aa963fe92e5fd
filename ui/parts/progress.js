// SPDX-License-Identifier: GPL-3.0-or-later
// The computation under way: how far, what, and a way to stop it; or why it could not be done.
import { html } from '../lib/ui.js';
import { computation } from '../lib/state.js';

export function Progress() {
    const job = computation.job.value;
    const isRunning = job && (job.state === 'waiting' || job.state === 'running');
    const trouble = computation.trouble.value;
    return html`
        <div class="progress-room" role="status" aria-live="polite">
            ${isRunning && html`<div class="progress"><progress max="1" value=${job.progress || undefined} aria-label="Computation"></progress>
                <span>${job.sentence || 'Computing'}</span><button type="button" class="quiet" onClick=${() => computation.stop()}>Stop</button>
            </div>`}
            ${!isRunning && trouble && html`<p class="trouble"><strong>Not computed:</strong> ${trouble}</p>`}
            ${job?.state === 'cancelled' && html`<p class="trouble">Stopped. The last result stands.</p>`}
        </div>`;
}
