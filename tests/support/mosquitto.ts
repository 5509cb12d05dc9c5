import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { randomBytes } from 'node:crypto'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { type Certificate, type Certificates, makeCertificates, sign } from './servers/certificates.js'
import { accepts, freePorts } from './servers/freePorts.js'
import { isInstalled, runTool, serverProcess } from './servers/serverProcess.js'

const DEPLOYED = fileURLToPath(new URL('../../deploy/mosquitto.conf', import.meta.url))
const SERVICE_USER = 'turbidrift'

/** False where Debian's package `mosquitto` is not installed; tests against it are then skipped and say so. */
export function hasMosquitto(): boolean {
  return isInstalled('mosquitto', '-h')
}

export interface Mosquitto {
  readonly url: string
  readonly port: number
  /** Undefined unless asked for. */
  readonly secure: MosquittoSecurity | undefined
  /** SIGKILL. */
  readonly kill: () => Promise<void>
  /** The killed broker again, on the same port with the stored sessions. */
  readonly restart: () => Promise<void>
  readonly killAndRestart: () => Promise<void>
  /** SIGKILL, and again with nothing of before: as after a pause longer than it keeps sessions. */
  readonly forgetAndRestart: () => Promise<void>
  readonly stop: () => Promise<void>
}

/** TLS; `url` asks for user and password besides. */
export interface MosquittoSecurity {
  /** Paths of PEM files; `otherCa` signed nothing here. */
  readonly ca: string
  readonly otherCa: string
  /** Lets in who shows a certificate of `ca`, as the user it names. */
  readonly clientCertificateUrl: string
  /** Shows the user turbidrift. */
  readonly clientCertificate: Certificate
  /** The same broker with an expired certificate. */
  readonly expiredUrl: string
  /** What the service logs in as. */
  readonly user: string
  readonly password: string
  /** Who may log in, and publish or read nothing. */
  readonly stranger: { readonly user: string; readonly password: string }
}

export interface MosquittoOptions {
  /** Passwords of those let in, with the rights of deploy/mosquitto-access; without any everybody is. */
  readonly users?: Readonly<Record<string, string>>
  /** TLS, and the users `turbidrift` and `stranger` besides. */
  readonly secure?: boolean
  /** The broker's own limits of messages in flight and queued, in place of the roomy ones of deploy/mosquitto.conf. */
  readonly small?: boolean
}

/** Starts Mosquitto on free loopback ports in a temporary folder, with the settings of deploy/mosquitto.conf that matter. */
export async function startMosquitto(options: MosquittoOptions = {}): Promise<Mosquitto> {
  const folder = mkdtempSync(join(tmpdir(), 'turbidrift-mosquitto-'))
  mkdirSync(join(folder, 'data'))
  const ports = await freePorts(3)
  const certificates = options.secure === true ? makeCertificates(join(folder, 'secrets')) : undefined
  const secure = certificates && describeSecurity(certificates, join(folder, 'secrets'), ports)
  const secureUsers = secure && { [secure.user]: secure.password, [secure.stranger.user]: secure.stranger.password }
  const settings = join(folder, 'mosquitto.conf')
  writeFileSync(
    settings,
    [
      runningUser(),
      ...deployedLines(folder, options.small === true),
      ...accessLines(folder, (options.users ?? secureUsers) ? { ...secureUsers, ...options.users } : undefined),
      ...listenerLines(ports, certificates),
    ].join('\n'),
  )
  const server = serverProcess({
    name: 'Mosquitto',
    command: 'mosquitto',
    args: ['-c', settings],
    logFile: join(folder, 'mosquitto.log'),
    ready: () => accepts(ports[0]!),
  })
  await server.start()
  const kill = () => server.end('SIGKILL')
  const restart = () => server.start()
  return {
    url: secure === undefined ? `mqtt://127.0.0.1:${ports[0]!}` : `mqtts://localhost:${ports[0]!}`,
    port: ports[0]!,
    secure,
    kill,
    restart,
    killAndRestart: async () => {
      await kill()
      await restart()
    },
    forgetAndRestart: async () => {
      await kill()
      rmSync(join(folder, 'data', 'mosquitto.db'), { force: true })
      await restart()
    },
    stop: async () => {
      await server.end('SIGTERM')
      rmSync(folder, { recursive: true, force: true })
    },
  }
}

/** As root the broker would otherwise change to its own user, who may not read the folder. */
function runningUser(): string {
  return `user ${process.getuid?.() === 0 ? 'root' : (process.env.USER ?? 'nobody')}`
}

/** The deployed file without what a test sets for itself: listeners, users, paths. */
function deployedLines(folder: string, small: boolean): readonly string[] {
  const own = ['listener', 'cafile', 'certfile', 'keyfile', 'allow_anonymous', 'password_file', 'acl_file']
  const set = ['persistence_location', 'autosave_interval', 'log_dest']
  const limits = small ? ['max_inflight_messages', 'max_queued_messages', 'max_queued_bytes'] : []
  const left = readFileSync(DEPLOYED, 'utf8').split('\n')
  return [
    ...left.filter(line => ![...own, ...set, ...limits].includes(line.split(' ')[0]!)),
    `persistence_location ${folder}/data/`,
    'autosave_interval 2',
    'log_dest stderr',
  ]
}

function accessLines(folder: string, users: Readonly<Record<string, string>> | undefined): readonly string[] {
  if (users === undefined) return ['allow_anonymous true']
  const passwords = join(folder, 'passwords')
  writeFileSync(passwords, '')
  for (const [user, password] of Object.entries(users)) runTool('mosquitto_passwd', ['-b', passwords, user, password])
  const access = join(folder, 'access')
  writeFileSync(access, readFileSync(DEPLOYED.replace('mosquitto.conf', 'mosquitto-access'), 'utf8'))
  return ['allow_anonymous false', `password_file ${passwords}`, `acl_file ${access}`]
}

function listenerLines(ports: readonly number[], certificates: Certificates | undefined): readonly string[] {
  const listener = (index: number) => `listener ${ports[index]!} 127.0.0.1`
  if (certificates === undefined) return [listener(0), '']
  const { ca, server, expired } = certificates
  const tls = ({ certificate, key }: Certificate) => [`cafile ${ca}`, `certfile ${certificate}`, `keyfile ${key}`]
  return [
    ...[listener(0), ...tls(server)],
    ...[listener(1), ...tls(server), 'require_certificate true', 'use_identity_as_username true'],
    ...[listener(2), ...tls(expired), ''],
  ]
}

function describeSecurity({ ca, otherCa }: Certificates, secrets: string, ports: readonly number[]): MosquittoSecurity {
  const password = () => randomBytes(12).toString('hex')
  return {
    ca,
    otherCa,
    clientCertificateUrl: `mqtts://localhost:${ports[1]!}`,
    clientCertificate: sign(secrets, 'client', SERVICE_USER),
    expiredUrl: `mqtts://localhost:${ports[2]!}`,
    user: SERVICE_USER,
    password: password(),
    stranger: { user: 'stranger', password: password() },
  }
}
