import { spawn } from 'node:child_process'
import { createInterface } from 'node:readline'
import { onTestFailed, onTestFinished } from 'vitest'
import { eventually } from '../support/eventually.js'
import { MAIN } from './built.js'
import type { TestPlant } from './kafkaPlants.js'
import type { KafkaRun } from './kafkaRun.js'

type LogLine = Readonly<Record<string, unknown>> & { readonly msg?: string }

/** A member of the group in a process of its own. */
export interface MemberProcess {
  /** Lines of its log so far. */
  readonly log: readonly LogLine[]
  /** @returns its exit code, null where a signal ended it */
  readonly end: (signal: 'SIGKILL' | 'SIGTERM') => Promise<number | null>
  readonly pause: () => void
  readonly resume: () => void
}

/** Starts a member; what is left of it at the end of the test is killed, and its log shown where the test failed. */
export function startMember(run: KafkaRun, plants: readonly TestPlant[]): MemberProcess {
  const registers = plants.map(({ registerPath }) => registerPath)
  const args = ['serve', '--kafka', '--register', ...registers, '--connections', run.connectionsPath]
  const child = spawn(process.execPath, [MAIN, ...args, '--ticks', 'event'], { stdio: ['ignore', 'ignore', 'pipe'] })
  const log: LogLine[] = []
  createInterface({ input: child.stderr }).on('line', line => {
    log.push(line.startsWith('{') ? (JSON.parse(line) as LogLine) : { msg: line })
  })
  const ended = () => child.exitCode !== null || child.signalCode !== null
  onTestFinished(() => void child.kill('SIGKILL'))
  onTestFailed(() => {
    console.error(
      `member ${child.pid!}`,
      log
        .slice(-LINES_SHOWN)
        .map(line => JSON.stringify(line))
        .join('\n'),
    )
  })
  return {
    log,
    end: async signal => {
      child.kill(signal)
      await eventually(`the member ends after ${signal}`, ended)
      return child.exitCode
    },
    pause: () => void child.kill('SIGSTOP'),
    resume: () => void child.kill('SIGCONT'),
  }
}

const LINES_SHOWN = 25
