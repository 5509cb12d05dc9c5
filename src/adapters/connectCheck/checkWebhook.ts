import { lookup } from 'node:dns/promises'
import { connect, isIP } from 'node:net'
import { connect as connectTls } from 'node:tls'
import type { Webhook } from '../connectionsFile.js'
import { httpTarget } from '../httpTarget.js'
import { sayConnectionError, type Target } from '../sayConnectionError.js'
import { addressProblem } from '../webhook/addresses.js'
import { checkedLookup } from '../webhook/checkedLookup.js'
import { type ConnectFinding, findingsOf } from './finding.js'

const WORDS = { withTls: 'https://', without: 'http://' }
const TIMEOUT_MS = 10_000
/** A receiver of TLS 1.3 says that it misses our certificate after the handshake. */
const ALERT_MS = 500

/** Tries where a webhook leads to, up to the end of the TLS handshake; no event and no request is sent. */
export async function checkWebhook(webhook: Webhook): Promise<readonly ConnectFinding[]> {
  const { found, ok, wrong } = findingsOf(`webhooks.${webhook.name}`)
  const target = httpTarget(webhook.url)
  const at = `${target.host}:${String(target.port)}`
  try {
    const address = await allowedAddress(target.host, webhook)
    await shakeHands(target, webhook)
    ok(`${at} is reached at ${address}${target.tls ? ', with a certificate that is trusted' : ''}; no event was sent`)
  } catch (error) {
    wrong(sayConnectionError(error, target, WORDS) ?? (error instanceof Error ? error.message : String(error)))
  }
  return found
}

async function allowedAddress(host: string, { allowPrivateAddresses }: Webhook): Promise<string> {
  const addresses = isIP(host) === 0 ? (await lookup(host, { all: true })).map(({ address }) => address) : [host]
  const problems = addresses.map(address => addressProblem(address, allowPrivateAddresses))
  const allowed = addresses.find((_, index) => problems[index] === undefined)
  if (allowed !== undefined) return allowed
  throw new Error(
    `${host} leads to no address that events may be sent to (${problems.join('; ')}): correct the url, or set allowPrivateAddresses where the receiver is the plant's own`,
  )
}

function shakeHands(target: Target, { tls, allowPrivateAddresses }: Webhook): Promise<void> {
  const { host, port } = target
  const where = { host, port, lookup: checkedLookup(address => addressProblem(address, allowPrivateAddresses)) }
  return new Promise((resolve, reject) => {
    const socket = target.tls
      ? connectTls({
          ...where,
          ...(isIP(host) === 0 ? { servername: host } : {}),
          ...(tls?.ca === undefined ? {} : { ca: tls.ca }),
          ...(tls?.cert === undefined ? {} : { cert: tls.cert }),
          ...(tls?.key === undefined ? {} : { key: tls.key.reveal() }),
        })
      : connect(where)
    socket.setTimeout(TIMEOUT_MS, () => socket.destroy(Object.assign(new Error('timed out'), { code: 'ETIMEDOUT' })))
    socket.once(target.tls ? 'secureConnect' : 'connect', () => {
      setTimeout(() => {
        socket.destroy()
        resolve()
      }, ALERT_MS)
    })
    socket.once('error', reject)
  })
}
