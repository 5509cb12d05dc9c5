import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { runTool } from './serverProcess.js'

/** Paths of a certificate and its key, PEM. */
export interface Certificate {
  readonly certificate: string
  readonly key: string
}

/** Certificates of one run; all but `otherCa` are signed by `ca`. */
export interface Certificates {
  readonly ca: string
  /** An authority that signed nothing here. */
  readonly otherCa: string
  /** For localhost and 127.0.0.1. */
  readonly server: Certificate
  /** The same, valid in January 2020 only. */
  readonly expired: Certificate
}

const NAMES = 'subjectAltName=DNS:localhost,IP:127.0.0.1'
const VALID_DAYS = '30'

/** Makes an authority and what it signs in a folder. */
export function makeCertificates(folder: string): Certificates {
  mkdirSync(folder, { recursive: true, mode: 0o700 })
  const authority = (name: string) => {
    openssl(folder, [
      ...NEW_KEY(name),
      '-x509',
      '-days',
      VALID_DAYS,
      '-subj',
      `/CN=test ${name}`,
      '-out',
      `${name}.pem`,
    ])
    return join(folder, `${name}.pem`)
  }
  const ca = authority('ca')
  return {
    ca,
    otherCa: authority('other-ca'),
    server: sign(folder, 'server', 'localhost'),
    expired: signExpired(folder),
  }
}

/** A certificate of the authority in the folder, for a server on loopback or for a client that proves its name. */
export function sign(folder: string, file: string, commonName: string): Certificate {
  request(folder, file, commonName)
  writeFileSync(join(folder, 'names'), NAMES)
  const authority = ['-CA', 'ca.pem', '-CAkey', 'ca.key', '-CAcreateserial', '-days', VALID_DAYS, '-extfile', 'names']
  openssl(folder, ['x509', '-req', '-in', `${file}.csr`, ...authority, '-out', `${file}.crt`])
  return paths(folder, file)
}

/** Only `openssl ca` takes dates in the past, and that wants books to be kept. */
function signExpired(folder: string): Certificate {
  request(folder, 'expired', 'localhost')
  mkdirSync(join(folder, 'issued'))
  writeFileSync(join(folder, 'issued', 'index'), '')
  writeFileSync(join(folder, 'issued', 'serial'), '01\n')
  writeFileSync(
    join(folder, 'issued', 'settings'),
    `[ca]
default_ca=books
[books]
database=issued/index
serial=issued/serial
new_certs_dir=issued
default_md=sha256
policy=names
x509_extensions=extensions
[names]
commonName=supplied
[extensions]
${NAMES}
`,
  )
  const dates = ['-startdate', '20200101000000Z', '-enddate', '20200201000000Z']
  const authority = ['-config', 'issued/settings', '-cert', 'ca.pem', '-keyfile', 'ca.key']
  openssl(folder, ['ca', '-batch', '-notext', ...authority, '-in', 'expired.csr', ...dates, '-out', 'expired.crt'])
  return paths(folder, 'expired')
}

function request(folder: string, file: string, commonName: string): void {
  openssl(folder, [...NEW_KEY(file), '-subj', `/CN=${commonName}`, '-out', `${file}.csr`])
}

const NEW_KEY = (file: string) => ['req', '-newkey', 'rsa:2048', '-nodes', '-keyout', `${file}.key`]

function paths(folder: string, file: string): Certificate {
  return { certificate: join(folder, `${file}.crt`), key: join(folder, `${file}.key`) }
}

function openssl(folder: string, args: readonly string[]): void {
  runTool('openssl', args, { cwd: folder })
}
