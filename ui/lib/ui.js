// SPDX-License-Identifier: GPL-3.0-or-later
// The one door to the component library: html templates, hooks, signals.
import { h, render, Fragment } from '../vendor/preact.js';
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from '../vendor/hooks.js';
import { signal, computed, effect, batch, useSignal } from '../vendor/signals.js';
import htm from '../vendor/htm.js';

/** Templates: html`<p class="x">${text}</p>`. Text is always text, never markup. */
export const html = htm.bind(/** @type {any} */ (h));

export {
    h, render, Fragment, signal, computed, effect, batch, useSignal,
    useEffect, useLayoutEffect, useMemo, useRef, useState,
};

let ids = 0;

/** An id for a label and its control, the same as long as the component lives. @param {string} stem */
export function useId(stem) {
    return useMemo(() => `${stem}-${++ids}`, []);
}

/** @param {...(string|false|null|undefined)} names */
export function classes(...names) {
    return names.filter(Boolean).join(' ');
}
