import { type ChildProcess, execFileSync, spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createConnection, createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { eventually } from './eventually.js'

const BINARY = 'mosquitto'
const PASSWORD_TOOL = 'mosquitto_passwd'
const PATHS = `${process.env.PATH ?? ''}:/usr/sbin:/usr/local/sbin`
const DEPLOYED = fileURLToPath(new URL('../../deploy/mosquitto.conf', import.meta.url))

/** False where Debian's package `mosquitto` is not installed; tests against it are then skipped and say so. */
export function hasMosquitto(): boolean {
  try {
    execFileSync(BINARY, ['-h'], { env: { ...process.env, PATH: PATHS }, stdio: 'ignore' })
    return true
  } catch (error) {
    return (error as NodeJS.ErrnoException).code !== 'ENOENT'
  }
}

export interface Mosquitto {
  readonly url: string
  readonly port: number
  /** SIGKILL, then again on the same port with the stored sessions. */
  readonly killAndRestart: () => Promise<void>
  readonly stop: () => Promise<void>
}

/** Starts Mosquitto on a free loopback port in a temporary folder, with the settings of deploy/mosquitto.conf that matter. */
export async function startMosquitto(
  options: { readonly users?: Readonly<Record<string, string>> } = {},
): Promise<Mosquitto> {
  const folder = mkdtempSync(join(tmpdir(), 'turbidrift-mosquitto-'))
  mkdirSync(join(folder, 'data'))
  const port = await freePort()
  const config = join(folder, 'mosquitto.conf')
  writeFileSync(config, configuration(folder, port, options.users))
  let child = await run(config, port, folder)
  const end = async (signal: 'SIGTERM' | 'SIGKILL') => {
    if (child.exitCode !== null || child.signalCode !== null) return
    const exited = once(child, 'exit')
    child.kill(signal)
    await exited
  }
  return {
    url: `mqtt://127.0.0.1:${port}`,
    port,
    killAndRestart: async () => {
      await end('SIGKILL')
      child = await run(config, port, folder)
    },
    stop: async () => {
      await end('SIGTERM')
      rmSync(folder, { recursive: true, force: true })
    },
  }
}

/** The deployed file with its port, paths and user replaced by ones of the test; without users it lets everybody in. */
function configuration(folder: string, port: number, users: Readonly<Record<string, string>> | undefined): string {
  const who = process.getuid?.() === 0 ? 'root' : (process.env.USER ?? 'nobody')
  const lines = readFileSync(DEPLOYED, 'utf8')
    .replace(/^listener .*$/m, `listener ${port} 127.0.0.1`)
    .replace(/^persistence_location .*$/m, `persistence_location ${folder}/data/`)
    .replace(/^autosave_interval .*$/m, 'autosave_interval 2')
    .replace(/^log_dest .*$/m, `log_dest file ${folder}/mosquitto.log`)
    .replace(/^(cafile|certfile|keyfile) .*$/gm, '')
    .replace(/^password_file .*$/m, `password_file ${folder}/passwords`)
    .replace(/^acl_file .*$/m, `acl_file ${folder}/access`)
  if (users === undefined) {
    return `user ${who}\n${lines.replace(/^(password_file|acl_file) .*$/gm, '').replace(/^allow_anonymous .*$/m, 'allow_anonymous true')}`
  }
  writeFileSync(join(folder, 'passwords'), '')
  for (const [user, password] of Object.entries(users)) {
    execFileSync(PASSWORD_TOOL, ['-b', join(folder, 'passwords'), user, password], { stdio: 'ignore' })
  }
  writeFileSync(join(folder, 'access'), readFileSync(DEPLOYED.replace('mosquitto.conf', 'mosquitto-access'), 'utf8'))
  return `user ${who}\n${lines}`
}

async function run(config: string, port: number, folder: string): Promise<ChildProcess> {
  const child = spawn(BINARY, ['-c', config], {
    env: { ...process.env, PATH: PATHS },
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let said = ''
  child.stdout.on('data', (chunk: Buffer) => (said += chunk.toString()))
  child.stderr.on('data', (chunk: Buffer) => (said += chunk.toString()))
  await eventually('Mosquitto listens', async () => {
    if (child.exitCode !== null) throw new Error(`Mosquitto ended: ${said} (${folder})`)
    return accepts(port)
  })
  return child
}

function accepts(port: number): Promise<boolean> {
  return new Promise(resolve => {
    const socket = createConnection(port, '127.0.0.1')
    socket.once('connect', () => {
      socket.destroy()
      resolve(true)
    })
    socket.once('error', () => {
      resolve(false)
    })
  })
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1')
  await once(server, 'listening')
  const address = server.address()
  server.close()
  if (typeof address !== 'object' || address === null) throw new Error('no port')
  return address.port
}
