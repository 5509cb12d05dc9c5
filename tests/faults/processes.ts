import { type ChildProcess, spawn } from 'node:child_process'
import { once } from 'node:events'
import { createInterface } from 'node:readline'
import { eventually } from '../support/eventually.js'
import { MAIN, SENDER } from './built.js'

export interface ServeProcess {
  readonly kill: (signal: 'SIGKILL' | 'SIGTERM') => Promise<number | null>
  /** Null while it runs, and where a signal ended it. */
  readonly exitCode: () => number | null
  /** Port of the embedded broker; undefined without one. */
  readonly port: number | undefined
  /** Whoever reads its standard output goes away. */
  readonly leave: () => void
  /** Lines of its log so far. */
  readonly log: readonly Readonly<Record<string, unknown>>[]
}

/** Starts `serve` and waits until it says that it is up. */
export async function startServe(args: readonly string[]): Promise<ServeProcess> {
  const child = spawn(process.execPath, [MAIN, 'serve', ...args], { stdio: ['ignore', 'pipe', 'pipe'] })
  child.stdout.resume()
  const log: Readonly<Record<string, unknown>>[] = []
  createInterface({ input: child.stderr }).on('line', line => {
    log.push(line.startsWith('{') ? (JSON.parse(line) as Record<string, unknown>) : { msg: line })
  })
  const said = (msg: string) => log.find(entry => entry.msg === msg)
  await eventually('the service is up', () => {
    if (child.exitCode !== null || child.signalCode !== null) throw new Error(JSON.stringify(log))
    return said('Service started') !== undefined
  })
  return {
    port: said('Embedded broker listens')?.port as number | undefined,
    log,
    exitCode: () => child.exitCode,
    leave: () => child.stdout.destroy(),
    kill: async signal => {
      if (child.exitCode !== null || child.signalCode !== null) return child.exitCode
      const exited = once(child, 'exit')
      child.kill(signal)
      await exited
      return child.exitCode
    },
  }
}

export interface SenderProcess {
  readonly acknowledged: () => number
  readonly done: () => boolean
  readonly end: () => void
}

/** A process of its own that publishes each line of a file and repeats what was not acknowledged. */
export function startSender(url: string, file: string, topic: string, inFlight: number): SenderProcess {
  const program = `
    const { sendSamples } = await import(${JSON.stringify(SENDER)})
    const progress = n => process.stdout.write(n + '\\n')
    const sent = await sendSamples({ url: ${JSON.stringify(url)}, file: ${JSON.stringify(file)}, topic: ${JSON.stringify(topic)}, inFlight: ${inFlight}, progress })
    process.stdout.write('done ' + sent + '\\n')`
  const child: ChildProcess = spawn(process.execPath, ['--input-type=module', '-e', program], {
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  let acknowledged = 0
  let done = false
  createInterface({ input: child.stdout! }).on('line', line => {
    if (line.startsWith('done ')) done = true
    acknowledged = Number(line.replace('done ', ''))
  })
  return {
    acknowledged: () => acknowledged,
    done: () => {
      if (!done && child.exitCode !== null) throw new Error(`the sender ended with ${child.exitCode}`)
      return done
    },
    end: () => void child.kill('SIGKILL'),
  }
}
