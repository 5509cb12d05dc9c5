import { NO_CONNECTIONS } from '../adapters/connectionsFile.js'
import { isIoError, sayIoError } from '../adapters/inputFiles.js'
import { openStore, type Store } from '../adapters/sqliteStore.js'
import { brokerOfPlants } from './brokerOfPlants.js'
import { type PlantPlan, planPlants } from './planPlants.js'
import { openPlantService, type PlantService } from './plantService.js'
import type { ServiceOptions, ServiceParts, Shared } from './serviceOptions.js'

export interface Service {
  readonly brokerPort: number | undefined
  readonly plants: readonly { readonly plant: string; readonly store: Store }[]
  /** True when every sink has every event. */
  readonly drained: () => boolean
  /** Writes what came, saves the state, closes everything. May be called again. */
  readonly stop: () => Promise<void>
  /** Resolves when the service has ended: 0 after `stop`, 1 where a store was lost. */
  readonly ended: Promise<number>
}

export type StartedService =
  { readonly ok: true; readonly service: Service } | { readonly ok: false; readonly problems: readonly string[] }

/** Starts the service for one plant or several: stores, states, the embedded broker, then what they read and publish. */
export async function startService<S>(options: ServiceOptions, parts: ServiceParts<S>): Promise<StartedService> {
  const { log } = parts
  const shared: Shared<S> = { ...parts, options, connections: options.connections ?? NO_CONNECTIONS }
  const planned = await planPlants(options, shared.connections, log)
  if (!planned.ok) return planned
  const stores = openStores(planned.plans)
  if (!stores.ok) return stores

  let end: (code: number) => void = () => {}
  const ended = new Promise<number>(resolve => {
    end = resolve
  })
  let stopping: Promise<void> | undefined
  /** What all plants use, closed after they have ended. */
  const closers: (() => Promise<void>)[] = []
  let plants: readonly PlantService[] = []
  let isUp = false
  let isLost = false

  const close = async (): Promise<void> => {
    const closed = await Promise.allSettled(plants.map(plant => plant.stop()))
    for (const closeShared of closers) closed.push(...(await Promise.allSettled([closeShared()])))
    for (const each of closed)
      if (each.status === 'rejected') log.error({ err: each.reason }, 'Not everything could be closed')
  }
  const stop = (code: number): Promise<void> =>
    (stopping ??= (async () => {
      await close()
      log.info({ code }, 'Service ended')
      end(code)
    })())
  const lost = (): void => {
    isLost = true
    // Before that, whoever starts the service closes what is open.
    if (isUp) void stop(1)
  }

  plants = stores.opened.map(({ plan, store }) => openPlantService({ ...plan, store, lost }, shared))
  const started = await brokerOfPlants(planned.embeddedPort, plants, shared)
  if (!started.ok) {
    await close()
    return { ok: false, problems: [started.problem] }
  }
  const { broker } = started
  if (broker !== undefined) closers.push(broker.close)
  try {
    for (const plant of plants) await plant.begin(broker)
  } catch (error) {
    await close()
    return { ok: false, problems: [`events cannot be written: ${whyNot(error)}`] }
  }
  log.info({ plants: plants.length, ticks: options.ticks ?? 'clock' }, 'Service started')
  isUp = true
  // A batch may have been worked while the sinks were being opened.
  if (isLost as boolean) void stop(1)
  const drained = () => plants.every(plant => plant.drained())
  return { ok: true, service: { brokerPort: broker?.port, plants, drained, stop: () => stop(0), ended } }
}

function whyNot(error: unknown): string {
  if (isIoError(error)) return `${error.path ?? 'a file'}: ${sayIoError(error)}`
  return error instanceof Error ? error.message : String(error)
}

type OpenedStores =
  | { readonly ok: true; readonly opened: readonly { readonly plan: PlantPlan; readonly store: Store }[] }
  | { readonly ok: false; readonly problems: readonly string[] }

/** Opens all stores or none. */
function openStores(plans: readonly PlantPlan[]): OpenedStores {
  const problems: string[] = []
  const opened = plans.flatMap(plan => {
    const store = openStore(plan.storePath, plan.file.plant)
    if (store.ok) return [{ plan, store: store.store }]
    problems.push(store.problem)
    return []
  })
  if (problems.length === 0) return { ok: true, opened }
  for (const { store } of opened) store.close()
  return { ok: false, problems }
}
