import type { Fault } from '../model/faults.js'
import type { RegisterMessage } from '../model/messages.js'
import type { RecordedInput, Rejected } from '../model/recordedInput.js'
import { parseInstant } from '../model/time.js'
import { CLOCK_FEED } from './plantRunner.js'

/**
 * What a replay needs of the core, or of whatever walks the core and writes a journal.
 * @template S the state of one plant; one handed in is spent  @template E an event
 */
export interface ReplayCore<S, E> {
  /** @param byEvents whether plant time follows the times in the messages */
  readonly create: (plant: string, byEvents: boolean) => S
  readonly step: (
    state: S,
    input: RecordedInput,
  ) => {
    readonly state: S
    readonly events: readonly E[]
    readonly outcome: { readonly kind: string; readonly reason?: string; readonly faults?: readonly Fault[] }
  }
  /** The tick that is due by the times of the messages themselves. */
  readonly dueTick: (state: S) => { readonly kind: 'tick'; readonly time: string } | undefined
}

export interface ReplayOptions<S, E> {
  readonly core: ReplayCore<S, E>
  /** First input, where the inputs do not begin with a register of their own. */
  readonly register: { readonly plant: string; readonly message: RegisterMessage } | undefined
  /** `auto`: ticks among the first inputs mean that the file moves plant time itself. */
  readonly ticks: 'auto' | 'event' | 'recorded'
  /** The replay ends before the first tick after this instant. */
  readonly untilMs?: number
  readonly event: (event: E) => void
  readonly rejected: (rejected: RejectedInput) => void
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
  /** Ends the replay. @returns undefined where nobody gave a register */
  readonly finish: () => S | undefined
  readonly counts: ReplayCounts
  /** True once plant time has reached `untilMs`: nothing more is taken. */
  readonly ended: () => boolean
}

/** Inputs looked at before it is decided who moves plant time: a busy plant sends thousands between two ticks. */
export const TICK_SCAN = 20_000
const EXCERPT_LENGTH = 1_024

/**
 * Walks inputs through the core as the service would, synchronously, one by one. Nothing is read ahead but the first
 * `TICK_SCAN` inputs with `ticks: 'auto'`. The same inputs give the same events, byte for byte.
 */
export function createReplay<S, E>(options: ReplayOptions<S, E>): Replay<S> {
  const { core } = options
  let state: S | undefined
  let waiting: { readonly input: RecordedInput; readonly file: string; readonly line: number }[] | undefined = []
  let byEvents = options.ticks !== 'recorded'
  let ended = false
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
    if (state === undefined || ended) return
    if (options.untilMs !== undefined && isTickAfter(input, options.untilMs)) {
      ended = true
      return
    }
    const stepped = core.step(state, input)
    state = stepped.state
    for (const event of stepped.events) {
      counts.events += 1
      options.event(event)
    }
    const { outcome } = stepped
    if (outcome.kind === 'accepted') counts.accepted += file === CLOCK_FEED ? 0 : 1
    else if (outcome.kind === 'repeat') counts.repeats += 1
    else if (outcome.kind === 'excluded') add(counts.excluded, outcome.reason ?? 'other')
    else {
      const faults = outcome.faults ?? []
      const position = input.position ?? `${file}:${String(line)}`
      add(counts.rejected, faults[0]?.code ?? 'other')
      options.rejected({ position, faults, excerpt: excerptOf(input.message) })
    }
  }

  function hasEnded(): boolean {
    return ended
  }

  function takeNow(input: RecordedInput, file: string, line: number): void {
    if (ended) return
    counts.inputs += 1
    if (byEvents && isKind(input, 'tick')) {
      counts.ticksLeftOut += 1
      return
    }
    step(input, file, line)
    if (!byEvents || state === undefined) return
    for (let due = core.dueTick(state); due !== undefined && !hasEnded(); due = core.dueTick(state)) {
      step({ feed: CLOCK_FEED, message: due }, CLOCK_FEED, 0)
    }
  }

  function begin(): void {
    const first = waiting ?? []
    waiting = undefined
    if (options.ticks === 'auto') byEvents = !first.some(({ input }) => isKind(input, 'tick'))
    const own = first[0] === undefined ? undefined : plantOfRegister(first[0].input)
    const plant = own ?? options.register?.plant
    if (plant === undefined) return
    state = core.create(plant, byEvents)
    if (own === undefined && options.register !== undefined) {
      step({ feed: 'service', message: options.register.message }, CLOCK_FEED, 0)
    }
    for (const { input, file, line } of first) takeNow(input, file, line)
  }

  return {
    counts,
    ended: hasEnded,
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

/** Name of the plant where the input is a register; a recording begins with one. */
function plantOfRegister(input: RecordedInput): string | undefined {
  if (!isKind(input, 'register')) return undefined
  const { body } = input.message as { body?: { plant?: unknown } }
  return typeof body?.plant === 'string' ? body.plant : undefined
}

function isTickAfter(input: RecordedInput, untilMs: number): boolean {
  if (!isKind(input, 'tick')) return false
  const { time } = input.message as { time?: unknown }
  return typeof time === 'string' && (parseInstant(time) ?? 0) > untilMs
}

function isKind(input: RecordedInput, kind: string): boolean {
  const { message } = input
  return typeof message === 'object' && message !== null && (message as { kind?: unknown }).kind === kind
}

function excerptOf(message: unknown): string {
  const excerpt = (message as Partial<Rejected> | null)?.excerpt
  if (typeof excerpt === 'string') return excerpt
  return JSON.stringify(message).slice(0, EXCERPT_LENGTH)
}

function add(counts: Map<string, number>, key: string): void {
  counts.set(key, (counts.get(key) ?? 0) + 1)
}
