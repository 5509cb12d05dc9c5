import type { IConnackPacket } from 'mqtt'
import { topicsOut } from '../mqttTopics.js'
import type { MqttCheckOptions } from './checkMqtt.js'
import type { Findings } from './finding.js'
import type { SessionTrial } from './mqttSession.js'

/** The service refuses what is larger; topic and packet around it come on top. */
const LARGEST_PAYLOAD = 65_536

/** What the broker of MQTT 5 says of itself: properties of CONNACK, MQTT 5.0 §3.2.2.3. */
export function sayAnswer(
  properties: IConnackPacket['properties'],
  { broker, feeds }: MqttCheckOptions,
  findings: Findings,
): void {
  const { maximumPacketSize, maximumQoS, retainAvailable, sessionExpiryInterval } = properties ?? {}
  if (maximumPacketSize !== undefined && maximumPacketSize < LARGEST_PAYLOAD) {
    findings.warn(
      `the broker takes no packet above ${String(maximumPacketSize)} bytes: let it take 65536 and some (Mosquitto: max_packet_size)`,
    )
  }
  if (maximumQoS === 0) findings.wrong('the broker has no QoS 1, so it acknowledges nothing: allow QoS 1 there')
  // The type says boolean, the packet holds 0 or 1.
  if (broker.publishEvents && retainAvailable !== undefined && !retainAvailable) {
    findings.wrong('the broker keeps no retained messages, and the status of analyzers is one: allow them there')
  }
  if (feeds.length > 0 && sessionExpiryInterval !== undefined && sessionExpiryInterval < broker.sessionS) {
    findings.warn(
      `the broker keeps what waits for us for ${hours(sessionExpiryInterval)}, not the ${hours(broker.sessionS)} of sessionHours: raise it there (Mosquitto: persistent_client_expiration), or lower sessionHours`,
    )
  }
}

function hours(s: number): string {
  return `${String(Math.round(s / 36) / 100)} h`
}

/** What became of a session that was tried. */
export function sayTrial(
  trial: SessionTrial,
  { plant, receiveMaximum }: Pick<MqttCheckOptions, 'plant' | 'receiveMaximum'>,
  findings: Findings,
): void {
  if (!trial.ok) {
    sayNotTried(trial, `${topicsOut(plant)}check/`, findings)
    return
  }
  const { sent, came, window } = trial
  if (came < sent) {
    findings.wrong(
      `the broker keeps ${String(came)} of ${String(sent)} messages for a session that is away and drops the rest without an error: set its queue to no limit (Mosquitto: max_queued_messages 0) or to a day of messages`,
    )
  } else findings.ok(`sessions outlive their connection, and ${String(came)} of ${String(sent)} messages waited in one`)
  if (window < Math.min(receiveMaximum, came)) {
    findings.warn(
      `the broker sends only ${String(window)} messages before one is acknowledged, so batches cannot be full: let it have ${String(receiveMaximum)} under way (Mosquitto: max_inflight_messages)`,
    )
  }
}

function sayNotTried(trial: Extract<SessionTrial, { ok: false }>, scratch: string, findings: Findings): void {
  if (trial.why === 'no_session') {
    findings.wrong(
      'the broker keeps no session while its client is away, so what is sent then is lost: allow persistent sessions there',
    )
    return
  }
  const because = trial.why === 'failed' ? trial.problem : `nothing of what was published to ${scratch}# came back`
  findings.warn(
    `how much the broker keeps for a session that is away could not be tried (${because}): give us the right to read and write ${scratch}#, or see there that its queue has no limit (Mosquitto: max_queued_messages 0)`,
  )
}
