import type { Actor, Deps } from '../server/deps.ts';

/** Fills a studio that was just set up with the invented one, through the same rules as a person would use. */
export async function sowSampleStudio(_deps: Deps, _owner: Actor): Promise<void> {}
