import { basename, dirname, join, sep } from 'node:path'
import type { Logger } from 'pino'
import type { Connections } from '../adapters/connectionsFile.js'
import { readRegisterFile } from '../adapters/registerFile.js'
import type { RegisterFile } from '../model/register.js'
import { connectionProblems } from './connectionProblems.js'
import { feedClashes } from './feedClashes.js'
import { type Feeds, resolveFeeds } from './feeds.js'
import type { ServiceOptions } from './serviceOptions.js'

/** What is to be started for one plant. */
export interface PlantPlan {
  readonly file: RegisterFile
  readonly feeds: Feeds
  readonly storePath: string
  readonly dropFolder: string | undefined
}

export type PlannedPlants =
  | { readonly ok: true; readonly plans: readonly PlantPlan[] }
  | { readonly ok: false; readonly problems: readonly string[] }

const DEFAULT_PORT = 1883
const STORES = '.turbidrift'

/** Reads the registers and settles what each plant gets; every problem of registers and connections is told at once. */
export async function planPlants(
  options: ServiceOptions,
  connections: Connections,
  log: Logger,
): Promise<PlannedPlants> {
  const alone = options.registerPaths.length === 1
  const problems = connectionProblems(connections)
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
  const plans: PlantPlan[] = []
  for (const file of files.values()) {
    const resolved = resolveFeeds(file, { connections, defaultKinds: options.kinds ?? ['reading'], alone })
    if (resolved.ok) plans.push({ file, feeds: resolved.feeds, ...places(file.plant, options, alone) })
    else problems.push(...resolved.problems)
  }
  problems.push(
    ...feedClashes(
      plans.map(({ file, feeds }) => ({ plant: file.plant, feeds })),
      connections,
      embeddedPort(options, plans),
    ),
  )
  return problems.length > 0 ? { ok: false, problems } : { ok: true, plans }
}

/** Several registers may have the same file name, with which a problem begins. */
function inFolder(path: string, problem: string): string {
  return problem.startsWith(`${basename(path)}:`) ? `${dirname(path)}${sep}${problem}` : problem
}

/**
 * Port the embedded broker is to listen on, 0 for a free one; it runs where a feed needs it or a port was asked for.
 * @returns undefined where it does not run
 */
export function embeddedPort({ brokerPort }: ServiceOptions, plans: readonly PlantPlan[]): number | undefined {
  return brokerPort ?? (plans.some(({ feeds }) => feeds.embedded.length > 0) ? DEFAULT_PORT : undefined)
}

function places(plant: string, { storePath, dropFolder }: ServiceOptions, alone: boolean) {
  const ofPlant = (folder: string) => (alone ? folder : join(folder, plant))
  return {
    storePath: storePath !== undefined && alone ? storePath : join(storePath ?? STORES, `${plant}.db`),
    dropFolder: dropFolder === undefined ? undefined : ofPlant(dropFolder),
  }
}
