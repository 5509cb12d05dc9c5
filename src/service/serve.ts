import { NO_CONNECTIONS, readConnectionsFile } from '../adapters/connectionsFile.js'
import { registerMessage } from '../core/registerInput.js'
import { createLog, type LogLevel } from './log.js'
import { PLANT_CORE } from './plantCore.js'
import { secretGuard } from './secretGuard.js'
import { startService } from './service.js'
import type { ServiceOptions } from './serviceOptions.js'
import { SOFTWARE_VERSION } from './version.js'

export interface ServeOptions extends Omit<ServiceOptions, 'connections'> {
  /** connections.yaml */
  readonly connectionsPath?: string
  readonly logLevel?: LogLevel
}

/**
 * Runs the service until SIGTERM or SIGINT, then ends in order: the batch at hand is written and acknowledged, state
 * is saved, sinks get a few seconds. A second signal ends at once; nothing acknowledged is lost by that either.
 * @returns exit code: 0 after a signal, 1 where it could not start or lost its store
 */
export async function runServe(options: ServeOptions): Promise<number> {
  const { connectionsPath, logLevel, ...serviceOptions } = options
  const read =
    connectionsPath === undefined
      ? { ok: true as const, connections: NO_CONNECTIONS }
      : await readConnectionsFile(connectionsPath, process.env)
  if (!read.ok) return refuse(read.problems)
  const { connections } = read
  const guard = secretGuard(connections)
  const log = createLog(logLevel, guard)
  const started = await startService(
    { ...serviceOptions, connections },
    {
      core: PLANT_CORE,
      registerMessage,
      softwareVersion: SOFTWARE_VERSION,
      log,
      stdout: process.stdout,
      now: Date.now,
    },
  )
  if (!started.ok) return refuse(started.problems.map(guard))
  const { service } = started
  const release = onSignal(signal => {
    log.info({ signal }, 'Ending')
    void service.stop()
  })
  const code = await service.ended
  release()
  return code
}

function refuse(problems: readonly string[]): number {
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
