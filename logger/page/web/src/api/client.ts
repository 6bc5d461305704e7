// Asking the daemon. Every refusal comes back as one sentence.

/** An answer that is none: what the daemon said, or that it said nothing. */
export class Refused extends Error {
  constructor(
    message: string,
    /** HTTP status; 0 where there was no answer. */
    readonly status: number,
  ) {
    super(message);
  }
}

let onUnauthorized = (): void => {};

/** Says what is to be done when a token is needed. */
export function whenUnauthorized(act: () => void): void {
  onUnauthorized = act;
}

export function get<T>(path: string, signal?: AbortSignal): Promise<T> {
  return ask<T>(path, signal ? { signal } : {});
}

export function post<T>(path: string, body: unknown = {}, signal?: AbortSignal): Promise<T> {
  return ask<T>(path, { ...posting(body), ...(signal ? { signal } : {}) });
}

function posting(body: unknown): RequestInit {
  return { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) };
}

async function ask<T>(path: string, init: RequestInit): Promise<T> {
  const answer = await reach(path, init);
  return (answer.status === 204 ? undefined : await answer.json()) as T;
}

async function reach(path: string, init: RequestInit): Promise<Response> {
  let answer: Response;
  try {
    answer = await fetch(path, { ...init, credentials: "same-origin" });
  } catch (trouble) {
    if (init.signal?.aborted) throw trouble;
    throw new Refused("", 0);
  }
  if (answer.status === 401) onUnauthorized();
  if (!answer.ok) throw new Refused(await reason(answer), answer.status);
  return answer;
}

async function reason(answer: Response): Promise<string> {
  try {
    return ((await answer.json()) as { error?: string }).error ?? answer.statusText;
  } catch {
    return answer.statusText;
  }
}

/** Asks for a stream of lines of JSON and gives each as it comes. */
export async function lines<T>(path: string, body: unknown, signal: AbortSignal, take: (line: T) => void): Promise<void> {
  const answer = await reach(path, { ...posting(body), signal });
  const reader = answer.body!.pipeThrough(new TextDecoderStream()).getReader();
  let kept = "";
  for (;;) {
    const { done, value } = await reader.read().catch((trouble: unknown) => {
      throw signal.aborted ? trouble : new Refused("", 0); // it broke off
    });
    if (done) return;
    const parts = (kept + value).split("\n");
    kept = parts.pop()!;
    for (const part of parts) if (part !== "") take(JSON.parse(part) as T);
  }
}

/** A name as one part of a path. */
export function part(name: string | number): string {
  return encodeURIComponent(name);
}
