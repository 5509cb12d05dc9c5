const SENTENCES: Readonly<Record<string, string>> = {
  EADDRINUSE: 'another program listens there already: end it, or choose another port',
  EACCES: 'this user may not listen there: choose a port above 1023',
  EADDRNOTAVAIL: 'this machine has no such address',
}

/** Why a server of ours cannot listen, in words. */
export function sayListenError(error: unknown): string {
  const { code, message } = error as NodeJS.ErrnoException
  return SENTENCES[code ?? ''] ?? message
}
