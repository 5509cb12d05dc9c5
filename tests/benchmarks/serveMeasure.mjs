// What the benchmarks of `serve` have in common: a process under test, how far it is, and how two of them compare.
import { spawn } from 'node:child_process'
import { existsSync, readFileSync } from 'node:fs'
import { setTimeout as wait } from 'node:timers/promises'

/** Share of the messages after which the clock starts: by then both programs are loaded, connected and warm. */
const WARM = 0.1
const POLL_MS = 20
const QUIET_MS = 3_000

/**
 * Starts a Node process and hears its lines. End it with `end`, always.
 * @param args for Node  @param line what to do with each line on standard error
 */
export function startNode(args, line = () => {}) {
  const child = spawn(process.execPath, args, { stdio: ['ignore', 'pipe', 'pipe'] })
  const said = []
  for (const stream of [child.stdout, child.stderr]) {
    let rest = ''
    stream.setEncoding('utf8').on('data', text => {
      const lines = (rest + text).split('\n')
      rest = lines.pop()
      for (const whole of lines) {
        said.push(whole)
        line(whole)
      }
    })
  }
  const exited = new Promise(resolve => child.once('exit', resolve))
  return {
    pid: child.pid,
    said,
    hasEnded: () => child.exitCode !== null || child.signalCode !== null,
    end: async signal => {
      if (child.exitCode === null && child.signalCode === null) child.kill(signal)
      await exited
    },
  }
}

/**
 * Watches a process drain its queue: rate from the tenth part of the way to the end.
 * @param done how many messages it has finished  @param total where it is through; undefined: when it stands still
 */
export async function drain(process, done, total) {
  const seen = []
  let last = -1
  for (;;) {
    const count = done()
    const atMs = performance.now()
    if (count !== last) seen.push({ count, atMs, cpuS: cpuOf(process.pid) })
    last = count
    if (total !== undefined ? count >= total : count > 0 && atMs - seen.at(-1).atMs > QUIET_MS) break
    if (process.hasEnded()) throw new Error(process.said.slice(-5).join('\n'))
    await wait(POLL_MS)
  }
  const end = seen.at(-1)
  const start = seen.find(({ count }) => count >= WARM * end.count)
  const part = (end.count - start.count) / end.count
  return {
    count: end.count,
    /** Of all messages, in units of the whole queue. */
    elapsedS: (end.atMs - start.atMs) / 1_000 / part,
    cpuS: (end.cpuS - start.cpuS) / part,
    peakMiB: peakOf(process.pid),
  }
}

/** Processor time a process has used; Linux only, NaN elsewhere. */
function cpuOf(pid) {
  const path = `/proc/${pid}/stat`
  if (!existsSync(path)) return Number.NaN
  const fields = readFileSync(path, 'utf8').split(') ')[1].split(' ')
  // Fields 14 and 15 of proc(5), in ticks of 1/100 s.
  return (Number(fields[11]) + Number(fields[12])) / 100
}

/** Greatest resident memory so far; Linux only, NaN elsewhere. */
function peakOf(pid) {
  const path = `/proc/${pid}/status`
  if (!existsSync(path)) return Number.NaN
  return Number(/VmHWM:\s+(\d+) kB/.exec(readFileSync(path, 'utf8'))?.[1]) / 1_024
}

/**
 * Drains in turns, so that a busy moment of the machine falls on both, and prints each round and the ratios.
 * @param said stands with the ratios  @param drains { bare, serve }, each given the round
 */
export async function compare(rounds, said, { before = async () => {}, ...drains }) {
  const results = []
  for (let round = 0; round < rounds; round++) {
    await before()
    const both = {}
    for (const which of round % 2 === 0 ? ['bare', 'serve'] : ['serve', 'bare'])
      both[which] = await drains[which](round)
    results.push(both)
    process.stdout.write(`${JSON.stringify({ round, ...both })}\n`)
  }
  process.stdout.write(
    `${JSON.stringify({
      ...said,
      throughput: ratios(results, ({ bare, serve }) => bare.elapsedS / serve.elapsedS),
      throughputPerProcessorTime: ratios(results, ({ bare, serve }) => bare.cpuS / serve.cpuS),
      peakMemory: ratios(results, ({ bare, serve }) => serve.peakMiB / bare.peakMiB),
    })}\n`,
  )
}

/** Bare over serve, round by round: the median and its spread. */
function ratios(rounds, of) {
  const values = rounds.map(of).sort((a, b) => a - b)
  const at = share => Number(values[Math.round(share * (values.length - 1))].toFixed(3))
  return { median: at(0.5), least: at(0), most: at(1) }
}
