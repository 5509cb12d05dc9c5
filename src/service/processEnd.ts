import type { Logger } from 'pino'

/** Tells what keeps a command from starting. @returns its exit code */
export function refuse(problems: readonly string[]): number {
  for (const problem of problems) process.stderr.write(`${problem}\n`)
  return 1
}

/** Calls once at the first SIGTERM or SIGINT; the second has its usual effect. @returns what lets go of the signals */
export function onSignal(run: (signal: string) => void): () => void {
  const signals = ['SIGTERM', 'SIGINT'] as const
  const once = (signal: string): void => {
    release()
    run(signal)
  }
  const release = (): void => {
    for (const signal of signals) process.off(signal, once)
  }
  for (const signal of signals) process.on(signal, once)
  return release
}

/**
 * What nobody expected ends the process at once, told as one line like anything else: what was acknowledged is on disk,
 * and the rest comes again.
 */
export function onFailure(log: Logger): void {
  process.on('uncaughtException', err => {
    log.fatal({ err }, 'The service failed and ends')
    process.exit(1)
  })
}
