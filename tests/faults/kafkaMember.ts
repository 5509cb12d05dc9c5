import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { createInterface } from 'node:readline'
import { eventually } from '../support/eventually.js'
import { MAIN } from './built.js'
import type { TestPlant } from './kafkaPlants.js'
import type { KafkaRun } from './kafkaRun.js'

type LogLine = Readonly<Record<string, unknown>> & { readonly msg?: string }

/** A member of the group in a process of its own. */
export interface MemberProcess {
  /** Lines of its log so far. */
  readonly log: readonly LogLine[]
  /** Resolves when it has its partitions and takes messages. */
  readonly ready: () => Promise<void>
  /** @returns its exit code, null where a signal ended it */
  readonly end: (signal: 'SIGKILL' | 'SIGTERM') => Promise<number | null>
  readonly pause: () => void
  readonly resume: () => void
}

export function startMember(run: KafkaRun, plants: readonly TestPlant[]): MemberProcess {
  const registers = plants.map(({ registerPath }) => registerPath)
  const args = ['serve', '--kafka', '--register', ...registers, '--connections', run.connectionsPath]
  const child = spawn(process.execPath, [MAIN, ...args, '--ticks', 'event'], { stdio: ['ignore', 'ignore', 'pipe'] })
  const log: LogLine[] = []
  createInterface({ input: child.stderr }).on('line', line => {
    log.push(line.startsWith('{') ? (JSON.parse(line) as LogLine) : { msg: line })
  })
  const ended = () => child.exitCode !== null || child.signalCode !== null
  return {
    log,
    ready: () =>
      eventually('the member takes messages', () => {
        if (ended()) throw new Error(JSON.stringify(log.slice(-20)))
        return log.some(({ msg }) => msg === 'Member started')
      }),
    end: async signal => {
      if (ended()) return child.exitCode
      const exited = once(child, 'exit')
      child.kill(signal)
      await exited
      return child.exitCode
    },
    pause: () => void child.kill('SIGSTOP'),
    resume: () => void child.kill('SIGCONT'),
  }
}

export async function endAll(members: readonly MemberProcess[]): Promise<void> {
  await Promise.all(members.map(member => member.end('SIGKILL')))
}
