import { checkConnections } from '../adapters/connectCheck/checkConnections.js'
import type { ConnectFinding } from '../adapters/connectCheck/finding.js'
import { type Connections, readConnectionsFile } from '../adapters/connectionsFile.js'
import type { RegisterFile } from '../model/register.js'
import { BATCH_LIMITS } from '../service/batcher.js'
import type { Feeds } from '../service/feeds.js'
import { createLog } from '../service/log.js'
import { planFeeds } from '../service/planFeeds.js'
import { type Format, outJson } from './format.js'
import { EXIT, type Terminal } from './terminal.js'

/** The connections of a plant, and what it reads by them. */
export interface Connected {
  readonly connections: Connections
  readonly feeds: Feeds
}

/** Reads the connections and finds the broker of each feed. @returns undefined where something was refused, and told */
export async function loadConnected(
  file: RegisterFile,
  path: string | undefined,
  terminal: Terminal,
): Promise<Connected | undefined> {
  const read = await readConnectionsFile(path, process.env)
  const { plants, problems } = read.ok
    ? planFeeds([file], { connections: read.connections, alone: true })
    : { plants: [], problems: read.problems }
  for (const problem of problems) terminal.tell(problem)
  if (!read.ok || problems.length > 0) return undefined
  return { connections: read.connections, feeds: plants[0]!.feeds }
}

/** Tries each connection and says what was found, a line for each thing. @returns exit code */
export async function tryConnections(
  plant: string,
  { connections, feeds }: Connected,
  format: Format,
  terminal: Terminal,
): Promise<number> {
  const found = await checkConnections({
    connections,
    plant,
    feeds: feeds.remote,
    receiveMaximum: 2 * BATCH_LIMITS.maxItems,
    log: createLog('silent'),
  })
  for (const finding of found) {
    if (format === 'ndjson') outJson(terminal, { ...finding })
    else terminal.out(`${lineOf(finding)}\n`)
  }
  if (found.length === 0) terminal.tell('note: no connection is stated, so there is none to try')
  return found.some(({ state }) => state === 'wrong') ? EXIT.refused : EXIT.ok
}

function lineOf({ state, connection, says }: ConnectFinding): string {
  return `${state.padEnd(7)}  ${connection}: ${says}`
}
