import type { Logger } from 'pino'
import type { RecordedInput } from '../model/recordedInput.js'
import { parseInstant } from '../model/time.js'
import type { Batcher } from './batcher.js'
import type { FeedHealth } from './feedHealth.js'
import type { Feeds } from './feeds.js'
import type { FeedSource } from './intake.js'
import type { PlantMetrics } from './plantMetrics.js'
import { tellSource } from './tellSource.js'

export interface PlantIntakeOptions {
  readonly feeds: Feeds
  readonly batcher: Batcher
  readonly health: FeedHealth
  readonly counts: PlantMetrics | undefined
  /** Reads what feeds keep in the store between runs. */
  readonly row: (key: string) => string | undefined
  /** When what comes now arrived; undefined where plant time follows the messages. */
  readonly arrivedMs: () => number | undefined
  readonly log: Logger
  readonly now: () => number
}

/** The way from packets to the batcher. */
export interface PlantIntake {
  /**
   * Takes what came on the embedded broker.
   * @param committed called when all of it is on disk
   * @returns false where no feed of this plant reads the topic
   */
  readonly embedded: (topic: string, payload: Uint8Array, committed: () => void) => boolean
  /**
   * Takes what a feed got from its broker.
   * @param taken called when it is in the queue: until then the feed waits
   * @returns false where the topic is none of the feed's
   */
  readonly remote: (
    source: FeedSource,
    topic: string,
    payload: Uint8Array,
    committed: () => void,
    taken: () => void,
  ) => boolean
}

export function openPlantIntake(options: PlantIntakeOptions): PlantIntake {
  const { feeds, batcher, health, counts, row, arrivedMs, log, now } = options
  for (const { name, begin } of [...feeds.embedded, ...feeds.remote]) {
    const tell = tellSource(log, name, now)
    begin?.(row, news => {
      tell(news)
      counts?.told(name, news)
    })
  }

  const take = (
    { name, read }: FeedSource,
    topic: string,
    payload: Uint8Array,
    committed: () => void,
    taken?: () => void,
  ): boolean => {
    const atMs = arrivedMs()
    const came = read(topic, payload, atMs === undefined ? undefined : new Date(atMs).toISOString())
    if (came === undefined) return false
    const { inputs, rows } = came
    for (const input of inputs) {
      const messageMs = timeOf(input)
      if (messageMs !== undefined) health.heard(name, messageMs, now())
      counts?.heard(name, input.message, atMs)
    }
    // They are written in order, so with the last one all are on disk.
    const last = inputs.length - 1
    for (let at = 0; at < last; at++) batcher.offer({ input: inputs[at]! })
    const input = inputs[last]
    if (input !== undefined && rows === undefined) batcher.offer({ input, committed }, taken)
    else batcher.offer({ ...(input && { input }), ...(rows && { rows }), committed }, taken)
    return true
  }

  return {
    embedded: (topic, payload, committed) => feeds.embedded.some(source => take(source, topic, payload, committed)),
    remote: (...came) => {
      const isRead = take(...came)
      if (!isRead) counts?.unread()
      return isRead
    },
  }
}

/** The time a message carries, for telling live from backlog; anything else about it is the core's to judge. */
function timeOf({ message }: RecordedInput): number | undefined {
  const time = typeof message === 'object' && message !== null ? (message as { time?: unknown }).time : undefined
  return typeof time === 'string' ? parseInstant(time) : undefined
}
