/** Currencies offered, from this machine's Intl: code and name. */
export function currencyOptions(): { value: string; label: string }[] {
  const names = new Intl.DisplayNames('en', { type: 'currency' });
  return Intl.supportedValuesOf('currency').map((code) => ({
    value: code,
    label: `${code} · ${names.of(code) ?? code}`,
  }));
}

export const zoneNames = (): string[] => Intl.supportedValuesOf('timeZone');
