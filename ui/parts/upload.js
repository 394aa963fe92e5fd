// SPDX-License-Identifier: GPL-3.0-or-later
// A place to drop a file, or to choose one; what became of it is said underneath.
import { html, useState, useId } from '../lib/ui.js';
import { mayWrite } from '../lib/state.js';
import { Refusal } from '../lib/api.js';
import { bytesText } from '../lib/format.js';

/** @param {{label: string, kinds: string, note: string, isSmall: boolean, onTake: (file: File) => Promise<string>}} props onTake gives the sentence of success */
export function Upload({ label, kinds, note, isSmall, onTake }) {
    const [state, setState] = useState({ text: '', isFault: false });
    const [isOver, over] = useState(false);
    const id = useId('upload');
    const take = async (/** @type {File|undefined} */ file) => {
        if (!file) return;
        setState({ text: `Reading ${file.name}, ${bytesText(file.size)} …`, isFault: false });
        try {
            setState({ text: await onTake(file), isFault: false });
        } catch (trouble) {
            if (!(trouble instanceof Refusal)) throw trouble;
            setState({ text: `${file.name}: ${trouble.message}`, isFault: true });
        }
    };
    if (!mayWrite('visit')) return null;
    return html`
        <div class=${`drop ${isOver ? 'is-over' : ''} ${isSmall ? 'is-small' : ''}`}
            onDragOver=${(/** @type {DragEvent} */ e) => { e.preventDefault(); over(true); }} onDragLeave=${() => over(false)}
            onDrop=${(/** @type {DragEvent} */ e) => { e.preventDefault(); over(false); take(e.dataTransfer?.files[0]); }}>
            <label for=${id}>${label}</label>
            <input id=${id} type="file" accept=${kinds}
                onChange=${(/** @type {any} */ e) => { take(e.currentTarget.files[0]); e.currentTarget.value = ''; }} />
            ${!isSmall && html`<small>${note}</small>`}
            <p class=${state.isFault ? 'fault' : 'note'} role=${state.isFault ? 'alert' : 'status'}>${state.text}</p>
        </div>`;
}
