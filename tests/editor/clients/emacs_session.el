;;; One session of an Emacs without a screen: opens a part of the example with the user's lines, lets eglot connect,
;;; and writes what it shows as JSON to the file named by DOORLINT_ANSWER. Files and places come from the environment.
(require 'package)
(require 'json)
(package-initialize)
(require 'eglot)
(require 'flymake)

(setq make-backup-files nil create-lockfiles nil auto-save-default nil)
(load (getenv "DOORLINT_SETTINGS") nil t)

(defun session-until (ask what)
  "Wait until ASK gives something, and return it; leave with an error that says WHAT was waited for in vain."
  (let ((end (+ (float-time) (string-to-number (getenv "DOORLINT_PATIENCE")))) found)
    (while (not (setq found (funcall ask)))
      (when (> (float-time) end) (message "waited in vain for %s" what) (kill-emacs 3))
      (accept-process-output nil 0.1))
    found))

(defun session-findings ()
  "What flymake shows in the buffer: line, the text marked, and the message."
  (mapcar (lambda (found)
            (let ((start (flymake-diagnostic-beg found)) (end (flymake-diagnostic-end found)))
              `((line . ,(line-number-at-pos start))
                (text . ,(buffer-substring-no-properties start end))
                (message . ,(substring-no-properties (flymake-diagnostic-text found))))))
          (flymake-diagnostics)))

(find-file (getenv "DOORLINT_FILE"))
(font-lock-ensure)
(run-hooks 'post-command-hook) ; eglot-ensure connects after the first command of the user
(session-until #'eglot-managed-p "eglot to manage the buffer")
(session-until #'flymake-diagnostics "findings")
(let ((before (session-findings)) completed offered)
  ;; completion, where an id is half typed
  (goto-char (point-min))
  (search-forward "fed_from: psu-24.14")
  (delete-char -2)
  (let ((found (eglot-completion-at-point)))
    (setq completed (all-completions (buffer-substring-no-properties (nth 0 found) (nth 1 found)) (nth 2 found))))
  (insert "14")
  ;; the code action for a finding, chosen from the list as the user does
  (goto-char (point-min))
  (search-forward "to_negative")
  (goto-char (match-beginning 0))
  (let ((last-nonmenu-event ?x))
    (cl-letf (((symbol-function 'completing-read)
               (lambda (_prompt items &rest _)
                 (setq offered (mapcar #'car items))
                 (seq-find (lambda (title) (string-match-p "turn the suppressor round" title)) offered))))
      (call-interactively #'eglot-code-actions)))
  (session-until (lambda () (looking-at-p "to_positive")) "the change of the code action")
  (save-buffer) ; sends the change too: without a screen Emacs is never idle, when it would send it by itself
  (session-until (lambda () (not (seq-find (lambda (found) (equal (alist-get 'text found) "to_positive")) (session-findings))))
                 "the finding to go")
  (with-temp-file (getenv "DOORLINT_ANSWER")
    (insert (json-encode `((findings . ,(vconcat before))
                           (after . ,(vconcat (with-current-buffer (find-buffer-visiting (getenv "DOORLINT_FILE"))
                                                (session-findings))))
                           (completed . ,(vconcat (mapcar #'substring-no-properties completed)))
                           (offered . ,(vconcat offered)))))))
(eglot-shutdown-all)
(kill-emacs 0)
