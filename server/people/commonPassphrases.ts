import { readFile } from 'node:fs/promises';
import { join } from 'node:path';

/* What is long enough and guessed all the same (NIST SP 800-63B, 5.1.1.2: used passwords, dictionary words, repetitive or sequential
 * characters, words of the place). Of passwords that really leaked, nearly all that are common are shorter than a passphrase has to be; what
 * people make of them to get to twelve characters is the same word again, with digits, signs or a row of keys. So those are taken away, and
 * what remains is looked for. */

/** One a line, the commonest first: the list of `@zxcvbn-ts/language-common` 4.1.3 (MIT licence, beside it). */
const LIST = 'static/vendor/commonPasswords.txt';

/** The alphabet, the digits, and the rows of keys as they lie on common keyboards. */
const ROWS = [
  'abcdefghijklmnopqrstuvwxyz',
  '01234567890',
  'qwertyuiop',
  'asdfghjkl',
  'zxcvbnm',
  'qwertzuiop',
  'azertyuiop',
  'йцукенгшщзхъ',
  'фывапролджэ',
  'ячсмитьбю',
];
const LOOKS_LIKE: Readonly<Record<string, string>> = {
  '0': 'o',
  '1': 'i',
  '3': 'e',
  '4': 'a',
  '5': 's',
  '7': 't',
  '@': 'a',
  $: 's',
  '!': 'i',
};
/** So much beside a word that everybody knows is no secret. */
const TOO_LITTLE = 3;

let reading: Promise<string> | undefined;
/** The list between line ends, so that a whole line can be looked for. */
function theList(packageRoot: string): Promise<string> {
  reading ??= readFile(join(packageRoot, LIST), 'utf8').catch((error: unknown) => {
    reading = undefined;
    throw error;
  });
  return reading;
}

/** Accents fall away: a guesser leaves them out as well. */
const folded = (text: string): string => text.normalize('NFKD').replace(/\p{M}/gu, '').normalize('NFKC').toLowerCase();
const lettersAndDigits = (text: string): string => text.replace(/[^\p{L}\p{N}]/gu, '');
/** Signs that nobody adds to a word in such number. */
const MANY_SIGNS = 6;

/** 'abcabcabc' → 'abc', a piece at the end of it too. */
function once(text: string): string {
  const piece = /^(.+?)\1+(.*)$/su.exec(text);
  return piece?.[1]?.startsWith(piece[2] ?? '') ? piece[1] : text;
}

/** Without every three or more neighbours of a row, in either direction. */
function withoutRows(text: string): string {
  let rest = '';
  for (let i = 0; i < text.length; ) {
    const lengths = ROWS.flatMap((row) => [row, [...row].reverse().join('')]).map((row) => {
      const at = row.indexOf(text.charAt(i));
      let n = 0;
      while (at >= 0 && i + n < text.length && row.charAt(at + n) === text.charAt(i + n)) n++;
      return n;
    });
    const longest = Math.max(...lengths);
    if (longest >= 3) i += longest;
    else rest += text.charAt(i++);
  }
  return rest;
}

/** Everything that would be tried for `text`: itself, and what is left without digits, rows of keys and repetition. */
function cores(text: string): string[] {
  const plain = lettersAndDigits(text);
  const word = plain.replace(/\d+/g, '');
  return [
    plain,
    once(plain),
    word,
    once(word),
    withoutRows(plain).replace(/\d+/g, ''),
    once(withoutRows(plain)).replace(/\d+/g, ''),
  ];
}

/** Whether a passphrase is one that a guesser tries early: a leaked password, a word of this place or a row of keys, with whatever people
 *  add to such a thing. */
export async function isCommonPassphrase(
  packageRoot: string,
  passphrase: string,
  names: readonly string[],
): Promise<boolean> {
  const typed = folded(passphrase);
  if (new Set(typed.replace(/[\p{L}\p{N}\s]/gu, '')).size >= MANY_SIGNS) return false;
  const read = typed.replace(/[013457@$!]/g, (sign) => LOOKS_LIKE[sign] ?? sign);
  const known = [...names, 'lot and shade', 'lotshade', 'passphrase']
    .flatMap((name) => [name, ...name.split(/\s+/)])
    .map((name) => lettersAndDigits(folded(name)))
    .filter((name) => name.length >= 3)
    .sort((a, b) => b.length - a.length);
  const list = await theList(packageRoot);
  const withoutNames = (text: string): string =>
    known.reduce((rest, name) => rest.replaceAll(name, ''), lettersAndDigits(text));
  return [typed, read].some((text) => {
    if (new Set(lettersAndDigits(text)).size <= TOO_LITTLE) return true;
    const rest = withoutNames(text);
    return [...cores(text), ...(rest === lettersAndDigits(text) ? [] : cores(rest))].some(
      (core) => core.length <= TOO_LITTLE || list.includes(`\n${core}\n`),
    );
  });
}
