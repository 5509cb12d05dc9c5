import type { Connections } from '../adapters/connectionsFile.js'
import type { FeedKind } from '../model/messages.js'
import type { RegisterFile } from '../model/register.js'
import { connectionProblems } from './connectionProblems.js'
import { feedClashes } from './feedClashes.js'
import { type Feeds, resolveFeeds } from './feeds.js'

export interface PlannedFeeds {
  readonly plants: readonly { readonly file: RegisterFile; readonly feeds: Feeds }[]
  /** Port of the embedded broker, 0 for a free one; undefined where it is not needed. */
  readonly embeddedPort: number | undefined
  /** Everything that keeps them from being served, one sentence each. */
  readonly problems: readonly string[]
}

export interface FeedPlanning {
  readonly connections: Connections
  /** Kinds the embedded broker takes where a register declares no feeds; default readings only. */
  readonly kinds?: readonly FeedKind[] | undefined
  /** The embedded broker runs, and listens there; default only where a feed needs it, on 1883. */
  readonly brokerPort?: number | undefined
  /** False where the process is to serve more than these plants. */
  readonly alone: boolean
}

const DEFAULT_PORT = 1883

/** Finds the broker of each feed, and what must not be between feeds, plants and connections. */
export function planFeeds(files: readonly RegisterFile[], planning: FeedPlanning): PlannedFeeds {
  const { connections, kinds = ['reading'], brokerPort, alone } = planning
  const problems = connectionProblems(connections)
  const plants = files.flatMap(file => {
    const resolved = resolveFeeds(file, { connections, defaultKinds: kinds, alone })
    if (resolved.ok) return [{ file, feeds: resolved.feeds }]
    problems.push(...resolved.problems)
    return []
  })
  const isNeeded = plants.some(({ feeds }) => feeds.embedded.length > 0)
  const embeddedPort = brokerPort ?? (isNeeded ? DEFAULT_PORT : undefined)
  const named = plants.map(({ file, feeds }) => ({ plant: file.plant, feeds }))
  problems.push(...feedClashes(named, connections, embeddedPort))
  return { plants, embeddedPort, problems }
}
