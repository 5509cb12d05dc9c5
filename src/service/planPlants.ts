import { join } from 'node:path'
import type { Logger } from 'pino'
import type { Connections } from '../adapters/connectionsFile.js'
import type { RegisterFile } from '../model/register.js'
import type { Feeds } from './feeds.js'
import { planFeeds } from './planFeeds.js'
import { readRegisters } from './readRegisters.js'
import type { ServiceOptions } from './serviceOptions.js'

/** What is to be started for one plant. */
export interface PlantPlan {
  readonly file: RegisterFile
  readonly feeds: Feeds
  readonly storePath: string
  readonly dropFolder: string | undefined
}

export type PlannedPlants =
  | {
      readonly ok: true
      readonly plans: readonly PlantPlan[]
      /** Of the embedded broker, 0 for a free one; undefined where it is not needed. */
      readonly embeddedPort: number | undefined
    }
  | { readonly ok: false; readonly problems: readonly string[] }

const STORES = '.turbidrift'

/** Reads the registers and settles what each plant gets; every problem of registers and connections is told at once. */
export async function planPlants(
  options: ServiceOptions,
  connections: Connections,
  log: Logger,
): Promise<PlannedPlants> {
  const alone = options.registerPaths.length === 1
  const read = await readRegisters(options.registerPaths, log)
  const { kinds, brokerPort } = options
  const planned = planFeeds(read.files, { connections, kinds, brokerPort, alone })
  const problems = [...(read.ok ? [] : read.problems), ...planned.problems]
  if (problems.length > 0) return { ok: false, problems }
  const plans = planned.plants.map(plant => ({ ...plant, ...places(plant.file.plant, options, alone) }))
  return { ok: true, embeddedPort: planned.embeddedPort, plans }
}

function places(plant: string, { storePath, dropFolder }: ServiceOptions, alone: boolean) {
  const ofPlant = (folder: string) => (alone ? folder : join(folder, plant))
  return {
    storePath: storePath !== undefined && alone ? storePath : join(storePath ?? STORES, `${plant}.db`),
    dropFolder: dropFolder === undefined ? undefined : ofPlant(dropFolder),
  }
}
