// SPDX-License-Identifier: GPL-3.0-or-later
// A native modal dialog: focus stays inside, Escape closes, focus goes back where it was.
import { html, useLayoutEffect, useRef, useId } from '../lib/ui.js';

/** @param {{title: string, onClose: () => void, children?: any, isWide?: boolean}} props */
export function Dialog({ title, onClose, children, isWide = false }) {
    const box = useRef(/** @type {HTMLDialogElement|null} */ (null));
    const id = useId('dialog');
    useLayoutEffect(() => {
        const dialog = box.current; // the reference is gone when this ends
        dialog?.showModal();
        return () => dialog?.close();
    }, []);
    return html`
        <dialog ref=${box} class=${isWide ? 'is-wide' : ''} aria-labelledby=${id}
            onCancel=${(/** @type {Event} */ e) => { e.preventDefault(); onClose(); }}>
            <div class="dialog-head"><h2 id=${id}>${title}</h2>
                <button type="button" class="quiet" aria-label="Close" onClick=${onClose}>×</button></div>
            ${children}
        </dialog>`;
}
