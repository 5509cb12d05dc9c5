import { createSecureContext } from 'node:tls'
import type { IClientOptions } from 'mqtt'
import { brokerAt, type MqttBroker } from './connectionsFile.js'
import { targetOf } from './mqttProblems.js'
import { sayConnectionError } from './sayConnectionError.js'

/** A broker in full, or one that lets everybody in by its address alone. */
export function brokerOf(broker: MqttBroker | string): MqttBroker {
  return typeof broker === 'string' ? brokerAt(broker) : broker
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
