import type { SeriesPoint } from '../core/series.js'
import { canonicalJson } from '../model/canonicalJson.js'
import { toCloudEvent } from '../model/cloudEvent.js'
import type { PlantEvent } from '../model/events.js'
import type { Fault } from '../model/faults.js'
import type { RecordedInput, Rejected } from '../model/recordedInput.js'
import type { JournalRow, OutboxRow, RejectRow } from '../adapters/sqliteStore.js'
import { journaled } from './journaled.js'

/** What the service needs of the core. @template S the state of one plant; one handed in is spent */
export interface Core<S> {
  readonly create: (plant: string) => S
  /** @param series takes what dashboards are to be given of the step; where it is absent nothing is made for them */
  readonly step: (state: S, input: RecordedInput, series?: (points: readonly SeriesPoint[]) => void) => Stepped<S>
  /** The tick that is due by the times of the messages themselves. */
  readonly dueTick: (state: S) => { readonly kind: 'tick'; readonly time: string } | undefined
  readonly serialise: (state: S) => Map<string, string>
  readonly restore: (rows: ReadonlyMap<string, string>) => S
}

export interface Stepped<S> {
  readonly state: S
  readonly events: readonly PlantEvent[]
  readonly outcome: { readonly kind: string; readonly faults?: readonly Fault[] }
}

/** `event`: plant time follows the times in the messages; `recorded`: it follows the ticks among the inputs. */
export type TickSource = 'event' | 'recorded'

export interface RunnerOptions<S> {
  readonly core: Core<S>
  readonly ticks: TickSource
  /** Number of the last journal row the state includes. */
  readonly lastSeq: number
  readonly prefix: string
  readonly softwareVersion: string
  /** Whether to make points for a dashboard's database. */
  readonly withSeries?: boolean
}

/** The inputs of one batch after the core: what has to be written, together or not at all. */
export interface WorkedBatch {
  readonly journal: readonly JournalRow[]
  readonly positions: ReadonlyMap<string, string>
  readonly events: readonly Omit<OutboxRow, 'seq'>[]
  readonly rejects: readonly RejectRow[]
  readonly series: readonly SeriesPoint[]
  readonly counts: ReadonlyMap<string, FeedCounts>
}

/** What one batch held of a feed. */
export interface FeedCounts {
  readonly taken: number
  readonly repeated: number
}

export interface PlantRunner {
  readonly advance: (inputs: readonly RecordedInput[]) => WorkedBatch
  readonly serialise: () => Map<string, string>
}

export const CLOCK_FEED = 'clock'

/** Walks one plant's state along its inputs. Owns the state: the one handed in is spent by the first input. */
export function createPlantRunner<S>(state: S, options: RunnerOptions<S>): PlantRunner {
  const { core, ticks } = options
  let current = state
  let seq = options.lastSeq

  return {
    advance: inputs => {
      const journal: JournalRow[] = []
      const positions = new Map<string, string>()
      const events: Omit<OutboxRow, 'seq'>[] = []
      const rejects: RejectRow[] = []
      const series: SeriesPoint[] = []
      const counts = new Map<string, FeedCounts>()
      const takeSeries = (points: readonly SeriesPoint[]) => {
        for (const point of points) series.push(point)
      }
      const take = (given: RecordedInput) => {
        const { text, input } = journaled(given)
        const stepped = core.step(current, input, options.withSeries === true ? takeSeries : undefined)
        current = stepped.state
        journal.push({ seq: ++seq, input: text })
        if (input.position !== undefined) positions.set(input.feed, input.position)
        for (const event of stepped.events) events.push(toOutbox(event, options))
        count(counts, input.feed, stepped.outcome.kind === 'repeat')
        if (stepped.outcome.kind === 'rejected') rejects.push(toReject(seq, input, stepped.outcome.faults ?? []))
      }
      for (const input of inputs) {
        take(input)
        if (ticks === 'recorded') continue
        for (let due = core.dueTick(current); due !== undefined; due = core.dueTick(current)) {
          take({ feed: CLOCK_FEED, message: due })
        }
      }
      return { journal, positions, events, rejects, series, counts }
    },
    serialise: () => core.serialise(current),
  }
}

/** An event as the outbox keeps it. */
export function toOutbox(
  event: PlantEvent,
  options: Pick<RunnerOptions<unknown>, 'prefix' | 'softwareVersion'>,
): Omit<OutboxRow, 'seq'> {
  const body = canonicalJson(toCloudEvent(event, options.prefix, options.softwareVersion))
  return { id: event.id, type: event.type, subject: event.subject, body }
}

function count(counts: Map<string, FeedCounts>, feed: string, isRepeat: boolean): void {
  const { taken, repeated } = counts.get(feed) ?? { taken: 0, repeated: 0 }
  counts.set(feed, { taken: taken + 1, repeated: repeated + (isRepeat ? 1 : 0) })
}

const EXCERPT_LENGTH = 1_024

function toReject(seq: number, input: RecordedInput, faults: readonly Fault[]): RejectRow {
  const { feed, position } = input
  const message = input.message as Partial<Rejected> | null
  const excerpt =
    typeof message?.excerpt === 'string' ? message.excerpt : canonicalJson(input.message).slice(0, EXCERPT_LENGTH)
  return { seq, feed, ...(position === undefined ? {} : { position }), faults, excerpt }
}
