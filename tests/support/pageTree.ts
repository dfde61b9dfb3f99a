import { type DefaultTreeAdapterTypes, parse } from 'parse5';

type Node = DefaultTreeAdapterTypes.Node;
export type PageElement = DefaultTreeAdapterTypes.Element;

/** Every element of a page (templates included), as a browser's parser makes them from the same bytes. */
export function elementsOf(html: string): PageElement[] {
  const found: PageElement[] = [];
  const walk = (node: Node): void => {
    if ('tagName' in node) found.push(node);
    if ('content' in node) walk(node.content);
    if ('childNodes' in node) for (const child of node.childNodes) walk(child);
  };
  walk(parse(html));
  return found;
}

export const attributeOf = (element: PageElement, name: string): string | undefined =>
  element.attrs.find((a) => a.name === name)?.value;

export const textOf = (element: PageElement): string => {
  let text = '';
  const walk = (node: Node): void => {
    if (node.nodeName === '#text' && 'value' in node) text += node.value;
    if ('childNodes' in node) for (const child of node.childNodes) walk(child);
  };
  walk(element);
  return text;
};
