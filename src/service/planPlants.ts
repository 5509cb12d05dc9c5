import { basename, dirname, join, sep } from 'node:path'
import type { Logger } from 'pino'
import type { Connections } from '../adapters/connectionsFile.js'
import { readRegisterFile } from '../adapters/registerFile.js'
import type { RegisterFile } from '../model/register.js'
import type { Feeds } from './feeds.js'
import { planFeeds } from './planFeeds.js'
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
  const problems: string[] = []
  const files = new Map<string, RegisterFile>()
  for (const path of options.registerPaths) {
    const register = await readRegisterFile(path)
    if (!register.ok) {
      problems.push(...register.problems.map(problem => (alone ? problem : inFolder(path, problem))))
      continue
    }
    for (const warning of register.warnings) log.warn({ warning }, 'The register is unusual')
    const { plant } = register.file
    if (files.has(plant))
      problems.push(`${path}: the plant ${plant} has a register already; one plant has one register`)
    else files.set(plant, register.file)
  }
  const { kinds, brokerPort } = options
  const {
    plants,
    embeddedPort,
    problems: ofFeeds,
  } = planFeeds([...files.values()], { connections, kinds, brokerPort, alone })
  problems.push(...ofFeeds)
  if (problems.length > 0) return { ok: false, problems }
  return {
    ok: true,
    embeddedPort,
    plans: plants.map(plant => ({ ...plant, ...places(plant.file.plant, options, alone) })),
  }
}

/** Several registers may have the same file name, with which a problem begins. */
function inFolder(path: string, problem: string): string {
  return problem.startsWith(`${basename(path)}:`) ? `${dirname(path)}${sep}${problem}` : problem
}

function places(plant: string, { storePath, dropFolder }: ServiceOptions, alone: boolean) {
  const ofPlant = (folder: string) => (alone ? folder : join(folder, plant))
  return {
    storePath: storePath !== undefined && alone ? storePath : join(storePath ?? STORES, `${plant}.db`),
    dropFolder: dropFolder === undefined ? undefined : ofPlant(dropFolder),
  }
}
