import type { Writable } from 'node:stream'
import type { Logger } from 'pino'
import type { Connections } from '../adapters/connectionsFile.js'
import type { FeedKind, RegisterMessage } from '../model/messages.js'
import type { RegisterFile } from '../model/register.js'
import type { Metrics } from './metrics.js'
import type { Core } from './plantRunner.js'

export interface ServiceOptions {
  /** One register for each plant. */
  readonly registerPaths: readonly string[]
  /** With one register its store, with several the folder of their stores; default: `.turbidrift/<plant>.db`. */
  readonly storePath?: string
  /** `clock` (default): plant time is the machine's; `event`: it follows the times in the messages. */
  readonly ticks?: 'clock' | 'event'
  /** Port of the embedded broker, 0 for a free one; default 1883. It runs only where a feed needs it. */
  readonly brokerPort?: number
  /** Kinds the embedded broker takes when the register declares no feeds; default readings only. */
  readonly kinds?: readonly FeedKind[]
  /** File that events of all plants are added to as NDJSON; `-` for standard output. */
  readonly eventsPath?: string
  /** Brokers, databases and the like that the service connects to; default none. */
  readonly connections?: Connections
  /** Folder that people put CSV and NDJSON files into; with several plants it holds one for each, by name. */
  readonly dropFolder?: string
  /** Types of events begin with it; default `turbidrift`. */
  readonly prefix?: string
  readonly saveEveryMs?: number
}

/** What the service is made of, so that tests can give it a core, a clock and a log of their own. */
export interface ServiceParts<S> {
  readonly core: Core<S>
  readonly registerMessage: (file: RegisterFile, before: RegisterFile | undefined) => RegisterMessage
  readonly softwareVersion: string
  readonly log: Logger
  readonly stdout: Writable
  readonly now: () => number
  /** Where the service counts what it does; nowhere without it. */
  readonly metrics?: Metrics
}

/** What all plants of the process share. */
export interface Shared<S> extends ServiceParts<S> {
  readonly options: ServiceOptions
  readonly connections: Connections
}
