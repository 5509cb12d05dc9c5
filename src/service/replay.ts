import type { PlantEvent } from '../model/events.js'
import type { Fault } from '../model/faults.js'
import type { RecordedInput, Rejected } from '../model/recordedInput.js'
import { CLOCK_FEED } from './plantRunner.js'

/** What a replay needs of the core. @template S the state of one plant; one handed in is spent */
export interface ReplayCore<S> {
  readonly create: (plant: string) => S
  readonly step: (
    state: S,
    input: RecordedInput,
  ) => {
    readonly state: S
    readonly events: readonly PlantEvent[]
    readonly outcome: { readonly kind: string; readonly reason?: string; readonly faults?: readonly Fault[] }
  }
  /** The tick that is due by the times of the messages themselves. */
  readonly dueTick: (state: S) => { readonly kind: 'tick'; readonly time: string } | undefined
}

export interface ReplayOptions<S> {
  readonly core: ReplayCore<S>
  readonly plant: string
  /** First input, where the inputs do not begin with a register of their own. */
  readonly register: RecordedInput | undefined
  /** `auto`: ticks among the first inputs mean that the file moves plant time itself. */
  readonly ticks: 'auto' | 'event' | 'recorded'
  readonly event: (event: PlantEvent) => void
  readonly rejected: (rejected: RejectedInput) => void
  /** Every input in the order the core took it, ticks of its own included: the journal of this replay. */
  readonly taken?: (input: RecordedInput) => void
}

/** One input that was refused, for the dead-letter file. */
export interface RejectedInput {
  readonly position: string
  readonly faults: readonly Fault[]
  readonly excerpt: string
}

export interface ReplayCounts {
  inputs: number
  accepted: number
  repeats: number
  /** Inputs left out, by reason. */
  readonly excluded: Map<string, number>
  /** Inputs refused, by code of the first fault. */
  readonly rejected: Map<string, number>
  /** Ticks of the file that were left out because plant time follows the messages. */
  ticksLeftOut: number
  events: number
}

export interface Replay<S> {
  /** @param file and line: where the input stood, told only when it is refused */
  readonly take: (input: RecordedInput, file: string, line: number) => void
  /** Ends the replay and gives the state. */
  readonly finish: () => S
  readonly counts: ReplayCounts
}

/** Inputs looked at before it is decided who moves plant time: a busy plant sends thousands between two ticks. */
export const TICK_SCAN = 20_000
const EXCERPT_LENGTH = 1_024

/**
 * Walks inputs through the core as the service would, synchronously, one by one. Nothing is read ahead but the first
 * `TICK_SCAN` inputs with `ticks: 'auto'`. The same inputs give the same events, byte for byte.
 */
export function createReplay<S>(options: ReplayOptions<S>): Replay<S> {
  const { core } = options
  let state = core.create(options.plant)
  let waiting: { readonly input: RecordedInput; readonly file: string; readonly line: number }[] | undefined = []
  let byEvents = options.ticks !== 'recorded'
  const counts: ReplayCounts = {
    inputs: 0,
    accepted: 0,
    repeats: 0,
    excluded: new Map(),
    rejected: new Map(),
    ticksLeftOut: 0,
    events: 0,
  }

  function step(input: RecordedInput, file: string, line: number): void {
    const stepped = core.step(state, input)
    state = stepped.state
    options.taken?.(input)
    for (const event of stepped.events) {
      counts.events += 1
      options.event(event)
    }
    const { outcome } = stepped
    if (outcome.kind === 'accepted') counts.accepted += 1
    else if (outcome.kind === 'repeat') counts.repeats += 1
    else if (outcome.kind === 'excluded') add(counts.excluded, outcome.reason ?? 'other')
    else {
      const faults = outcome.faults ?? []
      add(counts.rejected, faults[0]?.code ?? 'other')
      options.rejected({
        position: input.position ?? `${file}:${String(line)}`,
        faults,
        excerpt: excerptOf(input.message),
      })
    }
  }

  function takeNow(input: RecordedInput, file: string, line: number): void {
    counts.inputs += 1
    if (byEvents && isKind(input, 'tick')) {
      counts.ticksLeftOut += 1
      return
    }
    step(input, file, line)
    if (!byEvents) return
    for (let due = core.dueTick(state); due !== undefined; due = core.dueTick(state)) {
      step({ feed: CLOCK_FEED, message: due }, CLOCK_FEED, 0)
    }
  }

  function begin(): void {
    const first = waiting ?? []
    waiting = undefined
    if (options.ticks === 'auto') byEvents = !first.some(({ input }) => isKind(input, 'tick'))
    const ownRegister = first[0] !== undefined && isKind(first[0].input, 'register')
    if (!ownRegister && options.register !== undefined) step(options.register, 'register', 0)
    for (const { input, file, line } of first) takeNow(input, file, line)
  }

  return {
    counts,
    take: (input, file, line) => {
      if (waiting === undefined) {
        takeNow(input, file, line)
        return
      }
      waiting.push({ input, file, line })
      if (waiting.length >= (options.ticks === 'auto' ? TICK_SCAN : 1)) begin()
    },
    finish: () => {
      if (waiting !== undefined) begin()
      return state
    },
  }
}

function isKind(input: RecordedInput, kind: string): boolean {
  const { message } = input
  return typeof message === 'object' && message !== null && (message as { kind?: unknown }).kind === kind
}

function excerptOf(message: unknown): string {
  const excerpt = (message as Partial<Rejected> | null)?.excerpt
  if (isRejected(message) && typeof excerpt === 'string') return excerpt
  return (JSON.stringify(message) as string | undefined)?.slice(0, EXCERPT_LENGTH) ?? 'nothing'
}

function isRejected(message: unknown): message is Rejected {
  return typeof message === 'object' && message !== null && (message as { kind?: unknown }).kind === 'rejected'
}

function add(counts: Map<string, number>, key: string): void {
  counts.set(key, (counts.get(key) ?? 0) + 1)
}
