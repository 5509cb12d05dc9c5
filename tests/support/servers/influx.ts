import { randomBytes } from 'node:crypto'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { InfluxDB } from 'influx'
import { type Certificates, makeCertificates } from './certificates.js'
import { accepts, freePorts } from './freePorts.js'
import { isInstalled, serverProcess } from './serverProcess.js'

/** False where Debian's package `influxdb` is not installed; tests against it are then skipped. */
export function hasInflux(): boolean {
  return isInstalled('influxd', 'version')
}

/** InfluxDB 1.x on a free loopback port. */
export interface InfluxServer {
  readonly url: string
  readonly host: string
  readonly port: number
  /** Undefined where everybody is let in without encryption. */
  readonly secure: InfluxSecurity | undefined
  /** A client that is let in and may do everything. */
  readonly client: (database?: string) => InfluxDB
  readonly createDatabase: (name: string) => Promise<void>
  /** SIGKILL. */
  readonly kill: () => Promise<void>
  /** The killed server again, on the same port with the same data; resolves when it listens. */
  readonly restart: () => Promise<void>
  readonly stop: () => Promise<void>
}

/** HTTPS, user and password. */
export interface InfluxSecurity {
  /** Paths of PEM files; `otherCa` signed nothing here. */
  readonly ca: string
  readonly otherCa: string
  /** Who may do everything. */
  readonly user: string
  readonly password: string
  /** Who may log in, and read or write nothing unless granted. */
  readonly stranger: { readonly user: string; readonly password: string }
}

export async function startInflux(options: { readonly secure?: boolean } = {}): Promise<InfluxServer> {
  const folder = mkdtempSync(join(tmpdir(), 'turbidrift-influx-'))
  const [port, backupPort] = (await freePorts(2)) as [number, number]
  const certificates = options.secure === true ? makeCertificates(join(folder, 'secrets')) : undefined
  const settings = join(folder, 'influxdb.conf')
  writeFileSync(settings, configuration(folder, port, backupPort, certificates))
  const server = serverProcess({
    name: 'InfluxDB',
    command: 'influxd',
    args: ['-config', settings],
    env: { HOME: folder },
    logFile: join(folder, 'influxd.log'),
    ready: () => accepts(port),
  })
  const secure = certificates && describeSecurity(certificates)
  const client = (database?: string) =>
    new InfluxDB({
      host: 'localhost',
      port,
      protocol: secure === undefined ? 'http' : 'https',
      ...(database === undefined ? {} : { database }),
      ...(secure === undefined ? {} : { username: secure.user, password: secure.password }),
      ...(secure === undefined ? {} : { options: { ca: readFileSync(secure.ca) } }),
    })
  await server.start()
  if (secure !== undefined) {
    await client().createUser(secure.user, secure.password, true)
    await client().createUser(secure.stranger.user, secure.stranger.password)
  }
  return {
    url: `${secure === undefined ? 'http' : 'https'}://localhost:${port}`,
    host: 'localhost',
    port,
    secure,
    client,
    createDatabase: name => client().createDatabase(name),
    kill: () => server.end('SIGKILL'),
    restart: () => server.start(),
    stop: async () => {
      await server.end('SIGKILL')
      rmSync(folder, { recursive: true, force: true })
    },
  }
}

function configuration(folder: string, port: number, backupPort: number, certificates?: Certificates): string {
  const https = `https-enabled = true
  https-certificate = "${certificates?.server.certificate ?? ''}"
  https-private-key = "${certificates?.server.key ?? ''}"`
  return `reporting-disabled = true
bind-address = "127.0.0.1:${backupPort}"
[meta]
  dir = "${folder}/meta"
[data]
  dir = "${folder}/data"
  wal-dir = "${folder}/wal"
  query-log-enabled = false
[monitor]
  store-enabled = false
[http]
  bind-address = "127.0.0.1:${port}"
  log-enabled = false
  auth-enabled = ${certificates !== undefined}
  ${certificates === undefined ? 'https-enabled = false' : https}
`
}

function describeSecurity({ ca, otherCa }: Certificates): InfluxSecurity {
  const password = () => randomBytes(12).toString('hex')
  const stranger = { user: 'stranger', password: password() }
  return { ca, otherCa, user: 'service', password: password(), stranger }
}
