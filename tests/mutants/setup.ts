/* The process has run another mutant before: what is loaded now, before the next one is switched on, is loaded unchanged. */
const stryker = (globalThis as { __stryker__?: { activeMutant?: string | undefined } }).__stryker__;
if (stryker) stryker.activeMutant = undefined;
