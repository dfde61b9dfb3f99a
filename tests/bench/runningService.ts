/* What the measures against a running service share. */

/** The JSON API of a service, spoken to with a token; throws with the answer when it refuses. */
export const apiOf =
  ({ url, token }: { url: string; token: string }) =>
  async <T>(path: string, body?: unknown): Promise<T> => {
    const answer = await fetch(`${url}/api/v1${path}`, {
      method: body === undefined ? 'GET' : 'POST',
      headers: {
        authorization: `Bearer ${token}`,
        ...(body === undefined ? {} : { 'content-type': 'application/json' }),
      },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    });
    const text = await answer.text();
    if (!answer.ok) throw new Error(`${path}: ${answer.status} ${text.slice(0, 600)}`);
    return JSON.parse(text) as T;
  };

/** The value that a share q of them lie below, one of them: no values between. */
export const quantile = (values: readonly number[], q: number): number =>
  [...values].sort((a, b) => a - b)[Math.min(values.length - 1, Math.floor(q * values.length))] ?? Number.NaN;
