import { type ChildProcess, execFileSync, spawn } from 'node:child_process'
import { once } from 'node:events'
import { closeSync, existsSync, openSync, readFileSync } from 'node:fs'
import { eventually } from '../eventually.js'

export interface ServerProgram {
  readonly name: string
  readonly command: string
  readonly args: readonly string[]
  readonly env?: Readonly<Record<string, string>>
  /** What it writes goes there: a pipe would fill, and stop the server, while a test computes. */
  readonly logFile: string
  /** Whether it serves, given what it has said since it was started. */
  readonly ready: (said: string) => boolean | Promise<boolean>
}

/** A server in a process of its own, that a test ends and starts again with the same settings and data. */
export interface ServerProcess {
  /** Resolves when the server serves. */
  readonly start: () => Promise<void>
  /** Resolves when the process is gone; nothing happens where it is gone already. */
  readonly end: (signal: 'SIGTERM' | 'SIGKILL') => Promise<void>
}

/** Debian puts servers where an ordinary user's PATH does not look. */
const ENVIRONMENT = { ...process.env, PATH: `${process.env.PATH ?? ''}:/usr/sbin:/usr/local/sbin` }
const START_DEADLINE_MS = 120_000

const running = new Set<ChildProcess>()
process.once('exit', () => {
  for (const child of running) child.kill('SIGKILL')
})

export function serverProcess({ name, command, args, env, logFile, ready }: ServerProgram): ServerProcess {
  let child: ChildProcess | undefined
  const end = async (signal: 'SIGTERM' | 'SIGKILL') => {
    if (child === undefined || hasEnded(child)) return
    const exited = once(child, 'exit')
    child.kill(signal)
    await exited
  }
  return {
    start: async () => {
      const before = existsSync(logFile) ? readFileSync(logFile).length : 0
      const log = openSync(logFile, 'a')
      const started = spawn(command, args, { env: { ...ENVIRONMENT, ...env }, stdio: ['ignore', log, log] })
      closeSync(log)
      child = started
      running.add(started)
      started.once('exit', () => running.delete(started))
      const said = () => readFileSync(logFile).subarray(before).toString()
      try {
        await eventually(
          `${name} serves`,
          () => {
            if (hasEnded(started)) throw new Error(`${name} ended`)
            return ready(said())
          },
          START_DEADLINE_MS,
        )
      } catch (error) {
        await end('SIGKILL')
        throw new Error(`${name} did not start:\n${said().slice(-2_000)}`, { cause: error })
      }
    },
    end,
  }
}

/** Runs a server's own tool to its end. */
export function runTool(command: string, args: readonly string[], options: { readonly cwd?: string } = {}): void {
  try {
    execFileSync(command, args, { ...options, env: ENVIRONMENT, stdio: 'pipe' })
  } catch (error) {
    const { stderr, stdout } = error as { stderr?: Buffer; stdout?: Buffer }
    throw new Error(`${command} failed:\n${stderr?.toString() ?? ''}${stdout?.toString() ?? ''}`, { cause: error })
  }
}

/** Whether a program is installed, by asking it for its help or version. */
export function isInstalled(command: string, question: string): boolean {
  try {
    execFileSync(command, [question], { env: ENVIRONMENT, stdio: 'ignore' })
    return true
  } catch (error) {
    return (error as NodeJS.ErrnoException).code !== 'ENOENT'
  }
}

function hasEnded(child: ChildProcess): boolean {
  return child.exitCode !== null || child.signalCode !== null
}
