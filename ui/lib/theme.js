// SPDX-License-Identifier: GPL-3.0-or-later
// Light, dark or as the machine says; and the size of text. Kept in this browser: nothing personal.
import { signal, effect } from './ui.js';

/** @param {string} key @param {string} otherwise */
function kept(key, otherwise) {
    try {
        return localStorage.getItem(key) ?? otherwise;
    } catch {
        return otherwise;
    }
}

export const THEMES = ['as the machine', 'light', 'dark'];
export const SIZES = ['small', 'usual', 'large'];
export const theme = signal(kept('theme', THEMES[0]));
export const textSize = signal(kept('text-size', 'usual'));
const dark = globalThis.matchMedia?.('(prefers-color-scheme: dark)');
const machine = signal(dark?.matches ?? false);
dark?.addEventListener('change', () => (machine.value = dark.matches));

effect(() => {
    const root = globalThis.document?.documentElement;
    if (!root) return;
    root.dataset.theme = theme.value === 'dark' || (theme.value !== 'light' && machine.value) ? 'dark' : 'light';
    root.dataset.size = textSize.value;
    try {
        localStorage.setItem('theme', theme.value);
        localStorage.setItem('text-size', textSize.value);
    } catch {
        // a browser that keeps nothing: the choice lasts as long as the page
    }
});
