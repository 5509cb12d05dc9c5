import type { Logger } from 'pino'
import { readConnectionsFile } from '../adapters/connectionsFile.js'
import { registerMessage } from '../core/registerInput.js'
import { createLog, type LogLevel } from './log.js'
import { createMetrics, type Metrics } from './metrics.js'
import { type MetricsAddress, startMetricsServer } from './metricsServer.js'
import { PLANT_CORE } from './plantCore.js'
import { onFailure, onSignal, refuse } from './processEnd.js'
import { secretGuard } from './secretGuard.js'
import { startService } from './service.js'
import type { ServiceOptions } from './serviceOptions.js'
import { SOFTWARE_VERSION } from './version.js'

export interface ServeOptions extends Omit<ServiceOptions, 'connections'> {
  /** connections.yaml */
  readonly connectionsPath?: string
  readonly logLevel?: LogLevel
  /** Where metrics are served; default nowhere. */
  readonly metricsAt?: MetricsAddress
}

/**
 * Runs the service until SIGTERM or SIGINT, then ends in order: the batch at hand is written and acknowledged, state
 * is saved, sinks get a few seconds. A second signal ends at once; nothing acknowledged is lost by that either.
 * @returns exit code: 0 after a signal, 1 where it could not start or lost its store
 */
export async function runServe(options: ServeOptions): Promise<number> {
  const { connectionsPath, logLevel, metricsAt, ...serviceOptions } = options
  const read = await readConnectionsFile(connectionsPath, process.env)
  if (!read.ok) return refuse(read.problems)
  const { connections } = read
  const guard = secretGuard(connections)
  const log = createLog(logLevel, guard)
  onFailure(log)
  const measured = metricsAt === undefined ? undefined : await serveMetrics(metricsAt, log)
  if (measured?.ok === false) return refuse([measured.problem])
  const started = await startService(
    { ...serviceOptions, connections },
    {
      core: PLANT_CORE,
      registerMessage,
      softwareVersion: SOFTWARE_VERSION,
      log,
      stdout: process.stdout,
      now: Date.now,
      ...(measured === undefined ? {} : { metrics: measured.metrics }),
    },
  )
  if (!started.ok) {
    await measured?.close()
    return refuse(started.problems.map(guard))
  }
  const { service } = started
  const release = onSignal(signal => {
    log.info({ signal }, 'Ending')
    void service.stop()
  })
  const code = await service.ended
  release()
  await measured?.close()
  return code
}

type MeasuredService =
  | { readonly ok: true; readonly metrics: Metrics; readonly close: () => Promise<void> }
  | { readonly ok: false; readonly problem: string }

async function serveMetrics(address: MetricsAddress, log: Logger): Promise<MeasuredService> {
  const metrics = createMetrics()
  const started = await startMetricsServer(address, metrics)
  if (!started.ok) return started
  const { port, close } = started.server
  log.info({ host: address.host, port }, 'Metrics are served')
  return { ok: true, metrics, close }
}
