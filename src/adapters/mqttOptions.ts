import { createSecureContext } from 'node:tls'
import type { IClientOptions } from 'mqtt'
import type { MqttBroker } from './connectionsFile.js'
import { targetOf } from './mqttProblems.js'
import { sayConnectionError } from './sayConnectionError.js'
import { secretOf } from './secret.js'

export interface MqttCredentials {
  readonly username?: string
  readonly password?: string
}

const SESSION_DAYS = 7

/** The broker to connect to, in full or by its URL alone. */
export type Where =
  { readonly broker: MqttBroker | string } | { readonly url: string; readonly credentials?: MqttCredentials }

export function brokerOf(where: Where): MqttBroker {
  if (!('broker' in where)) return brokerAt(where.url, where.credentials)
  return typeof where.broker === 'string' ? brokerAt(where.broker) : where.broker
}

/** A broker that only its URL is known of; user and password in it are taken out, so that it may stand in a log. */
function brokerAt(url: string, credentials: MqttCredentials = {}): MqttBroker {
  const bare = new URL(url)
  const username = credentials.username ?? decodeURIComponent(bare.username)
  const password = credentials.password ?? decodeURIComponent(bare.password)
  return {
    name: bare.host,
    url: withoutCredentials(url),
    ...(username === '' ? {} : { username }),
    ...(password === '' ? {} : { password: secretOf(password) }),
    sessionS: SESSION_DAYS * 86_400,
    publishEvents: false,
  }
}

/** A URL as it may stand in a log: without user and password. */
export function withoutCredentials(url: string): string {
  return url.replace(/\/\/[^/@]*@/, '//')
}

/** What is wrong with the settings themselves, before anything is tried; undefined where nothing is. */
export function faultOfSettings(broker: MqttBroker): string | undefined {
  if (broker.tls === undefined) return undefined
  const target = targetOf(broker)
  if (!target.tls) return 'tls is stated, but the url begins with mqtt://: write mqtts://, or take tls out'
  try {
    createSecureContext(tlsOptions(broker))
    return undefined
  } catch (error) {
    const sentence = sayConnectionError(error, target, { withTls: 'mqtts://', without: 'mqtt://' })
    return sentence ?? `the files under tls cannot be used: ${(error as Error).message}`
  }
}

/** How `mqtt` is told where to connect to and as whom. */
export function brokerOptions(broker: MqttBroker): IClientOptions {
  return {
    ...(broker.username === undefined ? {} : { username: broker.username }),
    ...(broker.password === undefined ? {} : { password: broker.password.reveal() }),
    ...tlsOptions(broker),
  }
}

function tlsOptions({ tls }: MqttBroker): { ca?: string; cert?: string; key?: string } {
  return {
    ...(tls?.ca === undefined ? {} : { ca: tls.ca }),
    ...(tls?.cert === undefined ? {} : { cert: tls.cert }),
    ...(tls?.key === undefined ? {} : { key: tls.key.reveal() }),
  }
}
