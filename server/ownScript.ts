/** Where a script that the service starts beside itself lies (a thread, a process of its own): among the sources when those run,
 *  beside the other built files otherwise. `path` is below server/, without its ending. */
export function ownScript(path: string): URL {
  if (import.meta.url.endsWith('.ts')) return new URL(`./${path}.ts`, import.meta.url);
  return new URL(`./${path.split('/').at(-1)}.js`, import.meta.url);
}
