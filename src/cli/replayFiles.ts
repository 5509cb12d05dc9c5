import { readMerged } from '../adapters/mergedInputs.js'
import type { LineWriter } from '../adapters/lineWriter.js'
import { registerMessage } from '../core/registerInput.js'
import { canonicalJson } from '../model/canonicalJson.js'
import { createReplay, type ReplayCore, type ReplayCounts } from '../service/replay.js'
import type { PreparedInputs } from './inputOptions.js'
import { startProgress } from './progress.js'
import { EXIT, type Terminal } from './terminal.js'

export const FILE_FEED = 'file'

export interface ReplayFilesOptions<S, E> {
  readonly core: ReplayCore<S, E>
  readonly inputs: PreparedInputs
  readonly ticks: 'auto' | 'event' | 'recorded'
  readonly untilMs?: number
  /** An event as the line it is written as. */
  readonly line: (event: E) => string
  readonly events: LineWriter | undefined
  readonly rejects: LineWriter | undefined
  /** Between chunks of input. */
  readonly pause?: () => Promise<void>
}

export interface ReplayedFiles<S> {
  /** Undefined where nobody gave a register. */
  readonly state: S | undefined
  readonly counts: ReplayCounts
  /** Empty cells, by analyzer. */
  readonly missing: ReadonlyMap<string, number>
}

/** Replays files into a core, writes events and refused inputs, shows progress. @returns or an exit code */
export async function replayFiles<S, E>(
  options: ReplayFilesOptions<S, E>,
  terminal: Terminal,
): Promise<ReplayedFiles<S> | number> {
  const { inputs, events, rejects } = options
  const { register } = inputs
  const missing = new Map<string, number>()
  const replay = createReplay({
    core: options.core,
    register: register === undefined ? undefined : { plant: register.plant, message: registerMessage(register) },
    ticks: options.ticks,
    ...(options.untilMs === undefined ? {} : { untilMs: options.untilMs }),
    event: event => events?.write(options.line(event)),
    rejected: rejected => rejects?.write(canonicalJson(rejected)),
  })
  const progress = startProgress(terminal, inputs.totalBytes)
  const problem = await readMerged(inputs.files, FILE_FEED, {
    input: replay.take,
    missing: analyzer => missing.set(analyzer, (missing.get(analyzer) ?? 0) + 1),
    ignored: headers => terminal.tell(`columns left out, for no analyzer has that name: ${headers.join(', ')}`),
    pause: async bytes => {
      progress.at(bytes, `${String(replay.counts.inputs)} inputs, ${String(replay.counts.events)} events`)
      await events?.flush()
      await rejects?.flush()
      await options.pause?.()
      return !replay.ended() && events?.gone() !== true
    },
  })
  const state = replay.finish()
  progress.end()
  await options.pause?.()
  await events?.close()
  await rejects?.close()
  if (problem !== undefined) {
    terminal.tell(`${problem.file}: ${problem.problem}`)
    return EXIT.refused
  }
  return { state, counts: replay.counts, missing }
}
