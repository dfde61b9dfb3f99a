/** Told once: the machine takes several milliseconds to list them. */
const once = <Value>(make: () => Value): (() => Value) => {
  let made: Value | undefined;
  return () => (made ??= make());
};

/** Currencies offered, from this machine's Intl: code and name. */
export const currencyOptions = once((): { value: string; label: string }[] => {
  const names = new Intl.DisplayNames('en', { type: 'currency' });
  return Intl.supportedValuesOf('currency').map((code) => ({
    value: code,
    label: `${code} · ${names.of(code) ?? code}`,
  }));
});

export const zoneNames = once((): string[] => Intl.supportedValuesOf('timeZone'));
